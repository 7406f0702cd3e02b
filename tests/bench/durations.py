"""How right, how early and how quick are the estimates of stage times?"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable, Sequence

import numpy as np

from batches.core.intervals import StageInterval
from batches.core.turnbull import turnbull
from batches.core.weibull import fit_weibull
from tests.bench.figure import Figure
from tests.simulate.stage_times import Judged, days_gained, history, judged, some_fern

FERNS = 300
HISTORIES = (0, 1, 3, 5, 10, 30, 100)
#: largest share of ferns with more than a quarter of their healthy trays called late
OFTEN = {10: 0.08, 30: 0.02}
TURNBULL_FASTER, WEIBULL_FASTER = 10.0, 20.0


def figures(ferns: int = FERNS) -> list[Figure]:
    """Run everything; about half a minute with 300 ferns."""
    runs = {trays: judged(trays, ferns=ferns, trays=trays) for trays in HISTORIES}
    spoiled = judged(7, ferns=ferns, trays=30, stalled=2)
    return [
        *(line for trays, run in runs.items() for line in _alarms(f"{trays} trays", run, trays)),
        *_alarms("30 trays, two stalled", spoiled, 30),
        _gain(runs[30]),
        *(line for trays in (10, 30) for line in _lean(f"{trays} trays", runs[trays])),
        *_lean("30 trays, two stalled", spoiled),
        *(_turnbull_speed(trays) for trays in (200, 2_000)),
        _weibull_speed(200),
    ]


def _mean(run: Sequence[Judged], what: str) -> float:
    return float(np.mean([getattr(one, what) for one in run]))


def _alarms(name: str, run: Sequence[Judged], trays: int) -> list[Figure]:
    share = _mean(run, "false_alarms")
    bar = 0.12 if trays == 10 else 0.10
    lines = [
        Figure(
            f"healthy trays called late, {name}", share, "share", None, None, f"≤ {bar:.2f}",
            share <= bar,
        )
    ]  # fmt: skip
    if trays in OFTEN:
        often = float(np.mean([one.false_alarms > 0.25 for one in run]))
        lines.append(
            Figure(
                f"ferns with a quarter of them called late, {name}", often, "share", None, None,
                f"≤ {OFTEN[trays]:.2f}", often <= OFTEN[trays],
            )
        )  # fmt: skip
    return lines


def _gain(run: list[Judged]) -> Figure:
    here, fixed = days_gained(run)
    return Figure(
        "a stalled tray is found so long after the median", here, "days", fixed, fixed / here,
        "≥ 30 % sooner than by fixed days", here <= 0.7 * fixed,
    )  # fmt: skip


def _lean(name: str, run: Sequence[Judged]) -> list[Figure]:
    lines = []
    for what, words, bar in (
        ("expected_error", "expected days", 0.06),
        ("late_error", "late days", 0.09),
    ):
        lean = _mean(run, what)
        lines.append(
            Figure(
                f"{words} lean by, {name}", lean, "share", None, None, f"within {bar:.2f}",
                abs(lean) <= bar,
            )
        )  # fmt: skip
    return lines


def _rows(trays: int) -> list[StageInterval]:
    rng = np.random.default_rng(trays)
    return history(rng, some_fern(rng), trays)


def _milliseconds(what: Callable[[], object], times: int) -> float:
    """Return the quickest of so many runs."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        what()
        best = min(best, time.perf_counter() - start)
    return 1_000 * best


def _turnbull_speed(trays: int) -> Figure:
    from lifelines.fitters.npmle import npmle

    rows = _rows(trays)
    left = np.array([row.left for row in rows]) + 1e-6
    right = np.array([row.right for row in rows])
    own = _milliseconds(lambda: turnbull(rows), 5)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        floor = _milliseconds(lambda: npmle(left, right), 1)
    return Figure(
        f"Turnbull's curve of {trays} trays", own, "ms", floor, floor / own,
        f"≥ {TURNBULL_FASTER:g} × faster than lifelines", floor >= TURNBULL_FASTER * own,
    )  # fmt: skip


def _weibull_speed(trays: int) -> Figure:
    from scipy import stats

    rows = _rows(trays)
    data = stats.CensoredData(
        interval=[(row.left, row.right) for row in rows if row.ending == "seen"],
        right=[row.left for row in rows if row.ending != "seen"],
    )
    own = _milliseconds(lambda: fit_weibull(rows), 5)
    floor = _milliseconds(lambda: stats.weibull_min.fit(data, floc=0), 2)
    return Figure(
        f"Weibull fit of {trays} trays", own, "ms", floor, floor / own,
        f"≥ {WEIBULL_FASTER:g} × faster than scipy", floor >= WEIBULL_FASTER * own,
    )  # fmt: skip
