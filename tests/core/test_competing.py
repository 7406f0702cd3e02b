"""Do the shares moved on, lost and still there add up, tray by tray?"""

from __future__ import annotations

import math

import numpy as np
import pytest

from batches.core.competing import fate_by, fates, kaplan_meier, log_rank
from batches.core.intervals import ENDINGS, Ending, StageInterval


def row(day: float, ending: Ending) -> StageInterval:
    if ending == "seen":
        return StageInterval(left=day - 1, right=day + 1, ending="seen")
    return StageInterval(left=day, ending=ending)


def some_rows(seed: int, count: int = 60) -> list[StageInterval]:
    rng = np.random.default_rng(seed)
    kinds = rng.choice(len(ENDINGS), count, p=[0.5, 0.2, 0.2, 0.1])
    days = rng.integers(5, 25, count)
    return [row(float(day), ENDINGS[kind]) for day, kind in zip(days, kinds, strict=True)]


def naive_fate(rows: list[StageInterval], until: float) -> tuple[float, float, float]:
    """Second implementation: what is still there passes on its weight when a tray is censored.

    Efron's redistribution to the right, each censored tray handing its share to those later.
    """
    order = sorted(rows, key=lambda r: (r.middle, r.ending == "waiting"))
    weight = [1 / len(order)] * len(order)
    moved = lost = 0.0
    for n, tray in enumerate(order):
        if tray.ending == "waiting":
            later = len(order) - n - 1
            for m in range(n + 1, len(order)):
                weight[m] += weight[n] / later
            if later == 0:
                break
        elif tray.middle <= until:
            if tray.ending == "seen":
                moved += weight[n]
            else:
                lost += weight[n]
    return moved, lost, 1 - moved - lost


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("day", [4, 10, 17, 30])
def test_the_shares_are_those_of_redistribution_to_the_right(seed, day):
    found = fate_by(fates(some_rows(seed)), day)
    expected = naive_fate(some_rows(seed), day)
    assert (found.moved_on, found.lost, found.still_there) == pytest.approx(expected, abs=1e-12)


def test_nothing_censored_leaves_bare_shares():
    rows = [row(10, "seen"), row(20, "lost"), row(30, "seen"), row(40, "no_germination")]
    assert [(s.day, s.moved_on, s.lost, s.still_there) for s in fates(rows)] == [
        (10, 0.25, 0.0, 0.75),
        (20, 0.25, 0.25, 0.5),
        (30, 0.5, 0.25, 0.25),
        (40, 0.5, 0.5, pytest.approx(0.0)),
    ]


def test_calling_the_lost_censored_would_promise_more():
    rows = [row(10, "lost"), row(10, "lost"), row(20, "seen"), row(20, "seen")]
    promised = 1 - kaplan_meier([10, 10, 20, 20], [False, False, True, True])[-1].share
    assert (promised, fates(rows)[-1].moved_on) == (1.0, 0.5)


@pytest.mark.parametrize("rows", [[], [row(10, "waiting")] * 3])
def test_without_events_all_are_still_there(rows):
    assert fates(rows) == ()
    found = fate_by(fates(rows), 50)
    assert (found.moved_on, found.lost, found.still_there) == (0, 0, 1)


def test_a_weight_counts_as_so_many_trays():
    heavy = StageInterval(left=10, ending="lost", weight=3)
    assert fates([heavy, row(20, "seen")]) == fates([row(10, "lost")] * 3 + [row(20, "seen")])


def naive_curve(times: list[float], happened: list[bool], at: float) -> float:
    """Second implementation: one tray after the other leaves; events before censorings."""
    order = sorted(zip(times, [not h for h in happened], strict=True))
    share = 1.0
    for n, (time, censored) in enumerate(order):
        if time <= at and not censored:
            share *= 1 - 1 / (len(order) - n)
    return share


@pytest.mark.parametrize("seed", range(4))
def test_the_product_limit_curve_equals_the_naive_one(seed):
    rng = np.random.default_rng(seed)
    times = rng.integers(1, 15, 40).astype(float).tolist()
    happened = (rng.random(40) < 0.6).tolist()
    for step in kaplan_meier(times, happened):
        assert step.share == pytest.approx(naive_curve(times, happened, step.time), abs=1e-12)


def test_without_censoring_greenwood_is_the_binomial_error():
    for step in kaplan_meier([1, 2, 3, 4, 5], [True] * 5)[:-1]:
        assert step.error == pytest.approx(math.sqrt(step.share * (1 - step.share) / 5))


def test_at_nought_greenwood_has_no_value():
    last = kaplan_meier([1, 2], [True, True])[-1]
    assert last.share == 0
    assert math.isnan(last.error)


def test_equal_groups_differ_in_nothing():
    group = ([3.0, 5.0, 8.0, 9.0], [True, True, False, True])
    found = log_rank(group, group)
    assert found is not None
    assert (found.observed, found.chi_square, found.p) == (3, 0, 1)


def test_without_events_groups_cannot_be_compared():
    assert log_rank(([3.0], [False]), ([4.0], [False])) is None
    assert log_rank(([3.0], [True]), ([], [])) is None
