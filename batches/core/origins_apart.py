"""Do trays of one fern take clearly longer from one origin than from another?

A fern is dated as one, whatever its origins; where two behave differently, that is said beside its
dates. Told by the log-rank test on the middles of the looks' intervals, and only where the days
themselves part by a quarter: trays of one batch are alike, so a small p alone proves little.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from batches.core.competing import kaplan_meier, log_rank
from batches.core.intervals import StageInterval

#: common practice, no source
FEWEST_SEEN, DAYS_PART, LARGEST_P = 5, 1.25, 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginsApart:
    """The two origins that part most, and the days by which half of their trays were through."""

    sooner: str
    sooner_day: float
    later: str
    later_day: float
    p: float


def origins_apart(rows: Mapping[str, Sequence[StageInterval]]) -> OriginsApart | None:
    """Return the two origins that part most clearly, p for all pairs; None where none do.

    Origins of fewer than five trays seen to move on are left out.
    """
    times = {
        origin: _middles(some)
        for origin, some in rows.items()
        if sum(row.ending == "seen" for row in some) >= FEWEST_SEEN
    }
    pairs = list(combinations(sorted(times), 2))
    best: OriginsApart | None = None
    for one, other in pairs:
        test = log_rank(times[one], times[other])
        halves = {origin: _half_day(*times[origin]) for origin in (one, other)}
        sooner, later = sorted((one, other), key=lambda origin: halves[origin] or 0.0)
        first, second = halves[sooner], halves[later]
        if test is None or first is None or second is None or second < DAYS_PART * first:
            continue
        p = min(1.0, test.p * len(pairs))
        if p <= LARGEST_P and (best is None or p < best.p):
            best = OriginsApart(sooner=sooner, sooner_day=first, later=later, later_day=second, p=p)
    return best


def _middles(rows: Sequence[StageInterval]) -> tuple[list[float], list[bool]]:
    kept = [row for row in rows if row.ending != "no_germination"]
    seen = [row.ending == "seen" for row in kept]
    return [
        (row.left + row.right) / 2 if moved else row.left
        for row, moved in zip(kept, seen, strict=True)
    ], seen


def _half_day(times: list[float], seen: list[bool]) -> float | None:
    return next((step.time for step in kaplan_meier(times, seen) if step.share <= 0.5), None)
