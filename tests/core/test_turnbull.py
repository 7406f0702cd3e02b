"""Is the curve the one that the looks support best, and does it answer at its edges?"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.core.intervals import StageInterval
from batches.core.turnbull import Bracket, turnbull


def seen(left: float, right: float, weight: float = 1.0) -> StageInterval:
    return StageInterval(left=left, right=right, ending="seen", weight=weight)


def waiting(left: float) -> StageInterval:
    return StageInterval(left=left, ending="waiting")


def naive_likelihood(rows: list[StageInterval], steps: int = 3_000) -> float:
    """Second implementation: plain EM over every gap between any two ends, in pure Python."""
    ends = sorted({row.left for row in rows} | {row.right for row in rows} | {math.inf})
    gaps = list(itertools.pairwise(ends))
    share = [1 / len(gaps)] * len(gaps)
    within = [
        [j for j, (a, b) in enumerate(gaps) if row.left <= a and b <= row.right] for row in rows
    ]
    for _ in range(steps):
        new = [0.0] * len(gaps)
        for row, places in zip(rows, within, strict=True):
            total = sum(share[j] for j in places)
            for j in places:
                new[j] += row.weight * share[j] / total
        share = [value / sum(new) for value in new]
    return sum(
        row.weight * math.log(sum(share[j] for j in places))
        for row, places in zip(rows, within, strict=True)
    )


ROWS = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 9), st.booleans()).map(
        lambda t: seen(t[0], t[0] + t[1]) if t[2] else waiting(t[0])
    ),
    min_size=1,
    max_size=12,
)


@given(ROWS)
def test_no_other_shares_make_the_looks_likelier(rows):
    curve = turnbull(rows)
    assert curve.gap <= 1e-8
    assert curve.log_likelihood >= naive_likelihood(rows, 200) - 1e-6
    assert sum(b.share for b in curve.brackets) == pytest.approx(1, abs=1e-6)


def test_the_likelihood_equals_that_of_plain_em():
    rng = np.random.default_rng(3)
    rows = []
    for time in 45 * rng.weibull(3, 40):
        last = 7 * math.floor(time / 7)
        rows.append(seen(last, last + 7) if rng.random() < 0.7 else waiting(7 * (last // 14)))
    assert turnbull(rows).log_likelihood == pytest.approx(naive_likelihood(rows), abs=1e-4)


def test_many_different_ends_are_settled_too():
    rng = np.random.default_rng(4)
    left = rng.uniform(0, 60, 600)
    rows = [
        seen(float(a), float(a + w)) for a, w in zip(left, rng.uniform(1, 30, 600), strict=True)
    ]
    assert turnbull(rows).gap <= 1e-8


def test_no_rows_make_no_curve():
    curve = turnbull([])
    assert (curve.brackets, curve.median, curve.moved_by(10)) == ((), None, (0, 0))


def test_one_row_is_its_own_bracket():
    curve = turnbull([seen(20, 27)])
    assert curve.brackets == (Bracket(after=20, by=27, share=1.0),)
    assert curve.median == (20, 27)


@pytest.mark.parametrize("ending", ["waiting", "lost", "no_germination"])
def test_while_nothing_moved_on_the_median_is_not_reached(ending):
    curve = turnbull([StageInterval(left=left, ending=ending) for left in (5, 9, 9)])
    assert [b.by for b in curve.brackets] == [math.inf]
    assert curve.median is None


def test_all_on_one_day_is_one_bracket():
    curve = turnbull([seen(30, 30)] * 5)
    assert curve.brackets == (Bracket(after=29, by=30, share=1.0),)


def test_intervals_that_only_touch_share_no_day():
    # (0, 7] and (7, 14]: nothing lies in both.
    assert [b.share for b in turnbull([seen(0, 7), seen(7, 14)]).brackets] == [0.5, 0.5]


def test_a_weight_counts_as_so_many_rows():
    rows = [seen(0, 10), seen(5, 12), waiting(8)]
    assert turnbull([seen(0, 10, 2), *rows[1:]]).brackets == turnbull([rows[0], *rows]).brackets


def test_a_sowing_that_never_germinated_stays_among_those_not_moved_on():
    given_up = StageInterval(left=3, ending="no_germination")
    curve = turnbull([seen(10, 17), seen(17, 24), seen(17, 24), given_up])
    assert curve.brackets[-1].by == math.inf
    assert curve.brackets[-1].share == pytest.approx(0.25)


def test_half_exactly_is_the_bracket_at_whose_end_it_is_reached():
    assert turnbull([seen(0, 7), seen(14, 21)]).median == (0, 7)


def test_within_a_bracket_only_bounds_are_known():
    curve = turnbull([seen(0, 7), seen(14, 21)])
    assert curve.moved_by(3) == (0, 0.5)
    assert curve.moved_by(7) == (0.5, 0.5)
    assert curve.moved_by(21) == (1, 1)
