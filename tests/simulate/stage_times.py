"""Ferns whose stage times are known, and trays of them looked at week by week.

Medians of ferns differ by a log standard deviation of .40, shapes lie between 2.5 and 4.5, one look
in ten is missed, one tray in ten is lost on the way. Common practice, no source: nobody has
measured a fern nursery for this.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from batches.core.durations import StageEstimate, estimate_stage
from batches.core.intervals import StageInterval
from batches.core.stages import Window

WINDOW = Window(early=30, usual=60, late=120)
BETWEEN_FERNS = 0.40
MISSED = 0.10
LOST = 0.10
EVERY = 7.0
#: trays are watched for so many medians of their fern
WATCHED = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Fern:
    """The truth about one fern: times of one stage are Weibull with this median and shape."""

    median: float
    shape: float

    @property
    def scale(self) -> float:
        return float(self.median / math.log(2) ** (1 / self.shape))

    @property
    def late(self) -> float:
        return float(self.scale * math.log(10) ** (1 / self.shape))

    def times(self, rng: np.random.Generator, trays: int) -> np.ndarray:
        return self.scale * rng.weibull(self.shape, trays)


def some_fern(rng: np.random.Generator) -> Fern:
    middle = math.sqrt(WINDOW.early * WINDOW.late)
    return Fern(
        median=middle * math.exp(BETWEEN_FERNS * rng.standard_normal()),
        shape=float(rng.uniform(2.5, 4.5)),
    )


def looked_at(
    rng: np.random.Generator, time: float, *, until: float, every: float = EVERY
) -> StageInterval:
    """Return what looks every so often, one in ten missed, make of a tray's true time.

    Ages are whole days: looks are dated, not timed.
    """
    left, day = 0.0, float(rng.integers(1, int(every) + 1))
    while day < until:
        if rng.random() >= MISSED:
            if day >= time:
                return StageInterval(left=left, right=day, ending="seen")
            left = day
        day += every
    return StageInterval(left=left, ending="waiting")


def history(
    rng: np.random.Generator, fern: Fern, trays: int, *, stalled: int = 0, every: float = EVERY
) -> list[StageInterval]:
    """Return the rows of a fern's trays, the first `stalled` of which never move on."""
    times = fern.times(rng, trays)
    times[:stalled] = math.inf
    rows = []
    for time in times:
        until = WATCHED * fern.median
        if math.isfinite(time) and rng.random() < LOST:
            until = float(rng.uniform(0, 2)) * fern.median
        rows.append(looked_at(rng, float(time), until=until, every=every))
    return rows


def last_looks_without_sign(
    rng: np.random.Generator, fern: Fern, trays: int, *, every: float = EVERY
) -> np.ndarray:
    """Return, for healthy trays, the age at the last look before they moved on."""
    times, first = fern.times(rng, trays), rng.uniform(0, every, trays)
    last = first + every * np.floor((times - first) / every)
    return np.where(last < 0, 0.0, last)


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """An estimate beside its truth: relative errors, and what its late day does.

    ``last_looks`` are ages of healthy trays of this fern at their last look without the sign.
    """

    fern: Fern
    estimate: StageEstimate
    last_looks: np.ndarray

    @property
    def expected_error(self) -> float:
        return self.estimate.expected_days / self.fern.median - 1

    @property
    def late_error(self) -> float:
        return self.estimate.late_after_days / self.fern.late - 1

    @property
    def false_alarms(self) -> float:
        """Share of healthy trays that are called late before they move on."""
        return float((self.last_looks >= self.estimate.late_after_days).mean())


def judged(
    seed: int, *, ferns: int, trays: int, stalled: int = 0, healthy: int = 300
) -> list[Judged]:
    """Return estimates from such a history for so many ferns, each with its truth."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(ferns):
        fern = some_fern(rng)
        rows = history(rng, fern, trays, stalled=stalled)
        found.append(
            Judged(
                fern=fern,
                estimate=estimate_stage(rows, window=WINDOW),
                last_looks=last_looks_without_sign(rng, fern, healthy),
            )
        )
    return found


def days_gained(all_judged: list[Judged]) -> tuple[float, float]:
    """Return how long after its fern's median a stalled tray is found: here, and by fixed days.

    The fixed number of days is the one that calls as many healthy trays late over all ferns.
    """
    false_alarms = float(np.mean([one.false_alarms for one in all_judged]))
    looks = np.concatenate([one.last_looks for one in all_judged])
    fixed = float(np.quantile(looks, 1 - false_alarms))
    here = np.mean([one.estimate.late_after_days - one.fern.median for one in all_judged])
    there = np.mean([fixed - one.fern.median for one in all_judged])
    return float(here) + EVERY / 2, float(there) + EVERY / 2
