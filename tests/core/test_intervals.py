"""Does a row say what a tray's looks prove, and refuse what cannot be?"""

from __future__ import annotations

import math

import pytest

from batches.core.intervals import NotAnInterval, StageInterval, pooled


def seen(left: float, right: float, weight: float = 1.0) -> StageInterval:
    return StageInterval(left=left, right=right, ending="seen", weight=weight)


def test_ages_before_the_start_count_as_nought():
    row = StageInterval(left=-3.5, ending="waiting")
    assert (row.left, row.right) == (0.0, math.inf)


def test_two_looks_on_one_day_leave_an_interval_of_a_day():
    assert (seen(12, 12).left, seen(12, 12).right) == (11.0, 12.0)


def test_a_sign_seen_at_the_start_leaves_half_a_day():
    assert (seen(0, 0).left, seen(0, 0).right) == (0.0, 0.5)
    assert (seen(-4, -2).left, seen(-4, -2).right) == (0.0, 0.5)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"left": 9, "right": 3, "ending": "seen"}, "before the last look"),
        ({"left": 9, "ending": "seen"}, "last day"),
        ({"left": 9, "right": 12, "ending": "waiting"}, "last day"),
        ({"left": math.nan, "ending": "lost"}, "not a number"),
        ({"left": 1, "right": math.nan, "ending": "seen"}, "last day"),
        ({"left": 1, "ending": "asleep"}, "asleep"),
        ({"left": 1, "ending": "lost", "weight": 0}, "weight"),
    ],
)
def test_what_cannot_be_is_refused_in_words(row, words):
    with pytest.raises(NotAnInterval, match=words):
        StageInterval(**row)


def test_equal_rows_are_taken_together_whatever_their_order():
    rows = [
        seen(7, 14),
        StageInterval(left=21, ending="lost"),
        seen(0, 7, weight=2),
        seen(7, 14),
        StageInterval(left=21, ending="waiting"),
        StageInterval(left=180, ending="no_germination", weight=3),
    ]
    for order in (rows, rows[::-1]):
        data = pooled(order)
        assert data.seen_left.tolist() == [0, 7]
        assert data.seen_right.tolist() == [7, 14]
        assert data.seen_weight.tolist() == [2, 2]
        assert data.open_left.tolist() == [21]
        assert data.open_weight.tolist() == [2]
        assert (data.never, data.seen, data.total) == (3, 4, 9)


def test_no_rows_pool_to_nothing():
    data = pooled([])
    assert data.total == 0
    assert data.seen_left.shape == data.open_left.shape == (0,)
