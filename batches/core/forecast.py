"""What will be ready, and when: low, likely and high?

Counts pots that *become* ready after the day of the question. Week k holds the days 7k-6 to 7k
after it; what had become ready unseen before it counts in week 1.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from batches.core.raising import FernModel, TrayNow, common_factors, ready_days_and_pots

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
    """Pots of one fern that become ready, in every draw and week: shape (draws, weeks)."""

    pots: Floats

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
    found = {fern: np.zeros((draws, weeks)) for fern in trays}
    for fern, pairs in trays.items():
        for model, standing in pairs:
            if not standing:
                continue
            for start in range(0, draws, BLOCK):
                part = slice(start, min(start + BLOCK, draws))
                days, pots = ready_days_and_pots(model, standing, common, part=part)
                found[fern][part] += _by_week(days, pots, weeks)
    return {fern: FernForecast(pots=pots) for fern, pots in found.items()}


def _by_week(days: Floats, pots: Floats, weeks: int) -> Floats:
    draws = days.shape[0]
    week = np.where(np.isfinite(days), np.ceil(np.maximum(days, 1.0) / 7.0), weeks + 1)
    week = np.minimum(week, weeks + 1).astype(np.int64) - 1
    flat = week + np.arange(draws)[:, None] * (weeks + 1)
    sums = np.bincount(flat.ravel(), weights=pots.ravel(), minlength=draws * (weeks + 1))
    return np.asarray(sums.reshape(draws, weeks + 1)[:, :weeks], dtype=float)


def _bands(pots: Floats) -> tuple[Band, ...]:
    low, likely, high = np.quantile(pots, [LOW, LIKELY, HIGH], axis=0)
    return tuple(
        Band(low=float(a), likely=float(b), high=float(c))
        for a, b, c in zip(low, likely, high, strict=True)
    )
