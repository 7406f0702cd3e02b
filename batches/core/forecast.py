"""What will be ready, and when: low, likely and high?

Counts pots that *become* ready after the day of the question. Week k holds the days 7k-6 to 7k
after it; what had become ready unseen before it counts in week 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from batches.core.raising import (
    FernModel,
    TrayNow,
    TraysReady,
    columns_of,
    common_factors,
    trays_ready,
)

Floats = NDArray[np.float64]
DRAWS = 2_000
#: draws reckoned at a time: memory stays bounded whatever the number of trays
BLOCK = 100
LOW, LIKELY, HIGH = 0.10, 0.50, 0.90


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """Low, likely and high: in eight of ten such weeks the true number lies between the ends."""

    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FernForecast:
    """Pots of one fern that become ready, in every draw and week: shape (draws, weeks).

    ``in_size`` holds the same for those trays whose pots have a size already, by size; what is
    missing in it to ``pots`` has no size yet.
    """

    pots: Floats
    in_size: Mapping[str, Floats] = field(default_factory=dict)

    def of_size(self, size: str, *, by_week: int) -> Floats:
        """Return the pots of a size by the end of a week, "" for none yet; shape (draws,)."""
        if size:
            sized = self.in_size.get(size)
            return np.zeros(len(self.pots)) if sized is None else sized[:, :by_week].sum(axis=1)
        known = [pots[:, :by_week].sum(axis=1) for pots in self.in_size.values()]
        return np.asarray(self.pots[:, :by_week].sum(axis=1) - sum(known))

    def weekly(self) -> tuple[Band, ...]:
        """Return the band of each week."""
        return _bands(self.pots)

    def cumulative(self) -> tuple[Band, ...]:
        """Return the band of all pots by the end of each week."""
        return _bands(np.cumsum(self.pots, axis=1))

    def four_weekly(self) -> tuple[Band, ...]:
        """Return the band of every four weeks; a rest of fewer weeks stands last."""
        weeks = self.pots.shape[1]
        starts = range(0, weeks, 4)
        return _bands(np.stack([self.pots[:, s : s + 4].sum(axis=1) for s in starts], axis=1))

    def chance_of(self, pots: float, *, by_week: int) -> float:
        """Return the chance that at least so many become ready by the end of a week (1-based)."""
        return float((self.pots[:, :by_week].sum(axis=1) >= pots).mean())


def forecast(
    trays: Mapping[str, Sequence[tuple[FernModel, Sequence[TrayNow]]]],
    *,
    weeks: int,
    seed: int,
    draws: int = DRAWS,
) -> dict[str, FernForecast]:
    """Return the forecast of every fern.

    Parameters
    ----------
    trays : mapping of fern to (model, trays) pairs
        One pair a route; ferns without trays give zeros.
    weeks, draws : int
        At least 1; draws are made in blocks.
    seed : int
        The same seed and records give the same answer.
    """
    rng = np.random.default_rng(seed)
    common = common_factors(draws, rng)
    found: dict[str, FernForecast] = {}
    for fern, pairs in trays.items():
        sizes = sorted({tray.size for _, standing in pairs for tray in standing} - {""})
        # One layer for each size, the first for pots that have none yet.
        pots = np.zeros((1 + len(sizes), draws, weeks))
        layers = {size: layer for layer, size in enumerate(["", *sizes])}
        for model, standing in pairs:
            columns = columns_of(model, standing)
            layer_of = np.array([layers[tray.size] for tray in standing], dtype=np.intp)
            for start in range(0, draws if standing else 0, BLOCK):
                part = slice(start, min(start + BLOCK, draws))
                ready = trays_ready(model, columns, common, part=part, until=7.0 * weeks)
                pots[:, part] += _by_week(ready, layer_of, pots[:, part].shape)
        found[fern] = FernForecast(
            pots=pots.sum(axis=0), in_size={size: pots[layers[size]] for size in sizes}
        )
    return found


def _by_week(ready: TraysReady, layer_of: NDArray[np.intp], shape: tuple[int, ...]) -> Floats:
    """Return the pots by layer, draw and week; what was ready by the day itself in week 1."""
    _, draws, weeks = shape
    week = np.ceil(np.maximum(ready.day, 1.0) / 7.0).astype(np.intp) - 1
    flat = (layer_of[ready.tray] * draws + ready.draw) * weeks + week
    sums = np.bincount(flat, weights=ready.pots, minlength=shape[0] * draws * weeks)
    return np.asarray(sums.reshape(shape), dtype=float)


def _bands(pots: Floats) -> tuple[Band, ...]:
    low, likely, high = np.quantile(pots, [LOW, LIKELY, HIGH], axis=0)
    return tuple(
        Band(low=float(a), likely=float(b), high=float(c))
        for a, b, c in zip(low, likely, high, strict=True)
    )
