"""What became of the trays: moved on, lost, or still there, and by when?

Moving on and being lost compete: a lost tray cannot move on any more, so one minus a
Kaplan-Meier curve that calls it "censored" would promise too much. The shares here are
Aalen-Johansen's. The Kaplan-Meier curve, Greenwood's variance and the log-rank test are kept
beside them, because published tables exist for those.

References: Kaplan and Meier (1958), J. Am. Stat. Assoc. 53, 457-481; Greenwood (1926); Aalen and
Johansen (1978), Scand. J. Stat. 5, 141-150; Mantel (1966), Cancer Chemother. Rep. 50, 163-170.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from batches.core.intervals import Floats, StageInterval

MOVED_ON, LOST = 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Fate:
    """Shares of the trays by a day; the three sum to 1."""

    day: float
    moved_on: float
    lost: float
    still_there: float


@dataclass(frozen=True, slots=True, kw_only=True)
class KaplanMeierStep:
    """The curve just after an event time; ``error`` is Greenwood's standard error."""

    time: float
    at_risk: float
    events: float
    share: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LogRank:
    """Whether two groups share one curve; observed and expected events are the first group's."""

    observed: float
    expected: float
    variance: float
    chi_square: float
    p: float


def fates(rows: Sequence[StageInterval]) -> tuple[Fate, ...]:
    """Return the shares after each day on which something happened, in order of days.

    A seen row counts at the middle of its interval, a discard at its age (*no germination* is
    one); on the same day moving on and being lost both meet the trays that stood before it.
    Trays waiting leave after that day. Without events, and without rows, there are no steps.
    """
    times = np.array([row.middle for row in rows], dtype=float)
    kinds = np.array([_fate(row) for row in rows], dtype=int)
    weights = np.array([row.weight for row in rows], dtype=float)
    moved = lost = 0.0
    still = 1.0
    steps: list[Fate] = []
    for day, at_risk, happened in _tables(times, kinds, weights):
        moved += still * happened[MOVED_ON] / at_risk
        lost += still * happened[LOST] / at_risk
        still *= 1.0 - (happened[MOVED_ON] + happened[LOST]) / at_risk
        steps.append(Fate(day=day, moved_on=moved, lost=lost, still_there=still))
    return tuple(steps)


def fate_by(steps: Sequence[Fate], day: float) -> Fate:
    """Return the shares by a day; before the first step all are still there."""
    found = Fate(day=day, moved_on=0.0, lost=0.0, still_there=1.0)
    for step in steps:
        if step.day > day:
            break
        found = step
    return Fate(day=day, moved_on=found.moved_on, lost=found.lost, still_there=found.still_there)


def _fate(row: StageInterval) -> int:
    if row.ending == "waiting":
        return 0
    return MOVED_ON if row.ending == "seen" else LOST


def kaplan_meier(times: Sequence[float], happened: Sequence[bool]) -> tuple[KaplanMeierStep, ...]:
    """Return the product-limit curve; a time without event is censored just after it.

    The standard error is NaN once the curve has reached 0, where Greenwood's sum has no value.
    """
    share, total = 1.0, 0.0
    steps: list[KaplanMeierStep] = []
    kinds = np.array([MOVED_ON if event else 0 for event in happened], dtype=int)
    for time, at_risk, counts in _tables(np.array(times, dtype=float), kinds, None):
        events = counts[MOVED_ON]
        share *= 1.0 - events / at_risk
        total += events / (at_risk * (at_risk - events)) if at_risk > events else math.nan
        error = share * math.sqrt(total)
        steps.append(
            KaplanMeierStep(time=time, at_risk=at_risk, events=events, share=share, error=error)
        )
    return tuple(steps)


def log_rank(
    first: tuple[Sequence[float], Sequence[bool]], second: tuple[Sequence[float], Sequence[bool]]
) -> LogRank | None:
    """Compare two groups, each as (times, happened), by Mantel's log-rank test.

    None when there is no event from which anything could be told.
    """
    times = np.array([*first[0], *second[0]], dtype=float)
    event = np.array([*first[1], *second[1]], dtype=bool)
    in_first = np.arange(len(times)) < len(first[0])
    expected = variance = 0.0
    for time in np.unique(times[event]):
        at_risk, here = times >= time, event & (times == time)
        n, n1, d = at_risk.sum(), (at_risk & in_first).sum(), here.sum()
        expected += d * n1 / n
        if n > 1:
            variance += d * (n1 / n) * (1 - n1 / n) * (n - d) / (n - 1)
    if variance == 0:
        return None
    observed = float((event & in_first).sum())
    chi_square = (observed - expected) ** 2 / variance
    p = 2 * NormalDist().cdf(-math.sqrt(chi_square))
    return LogRank(
        observed=observed,
        expected=float(expected),
        variance=float(variance),
        chi_square=float(chi_square),
        p=p,
    )


def _tables(
    times: Floats, kinds: NDArray[np.int_], weights: Floats | None
) -> list[tuple[float, float, Floats]]:
    """Return, for each time with an event, the weight at risk and that of each kind of event."""
    weights = np.ones(len(times)) if weights is None else weights
    lines = []
    for time in np.unique(times[kinds > 0]):
        here = times == time
        counts = np.asarray(np.bincount(kinds[here], weights[here], 3), dtype=float)
        lines.append((float(time), float(weights[times >= time].sum()), counts))
    return lines
