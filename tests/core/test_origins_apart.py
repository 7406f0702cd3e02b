"""Are two origins told apart when their trays take clearly different times, and only then?"""

from __future__ import annotations

import numpy as np
import pytest

from batches.core.intervals import StageInterval
from batches.core.origins_apart import origins_apart


def weekly(days) -> list[StageInterval]:
    return [
        StageInterval(left=7 * (day // 7), right=7 * (day // 7) + 7, ending="seen") for day in days
    ]


def test_the_sooner_and_the_later_are_named_with_their_days():
    found = origins_apart({"P-1": weekly([25, 27, 29, 31, 33] * 2), "P-2": weekly([60] * 8)})
    assert found is not None
    assert (found.sooner, found.later) == ("P-1", "P-2")
    assert (found.sooner_day, found.later_day) == (31.5, 59.5)
    assert found.p < 0.001


def test_alike_origins_and_small_differences_are_not_named():
    assert origins_apart({"P-1": weekly([28] * 60), "P-2": weekly([33] * 60)}) is None
    rng = np.random.default_rng(4)
    named = sum(
        origins_apart({o: weekly(40 * rng.weibull(3, 12)) for o in ("P-1", "P-2", "P-3")})
        is not None
        for _ in range(200)
    )
    assert named <= 6  # one in a hundred, for all pairs together


@pytest.mark.parametrize(
    "rows",
    [
        {},
        {"P-1": weekly([30] * 9)},
        {"P-1": weekly([30] * 9), "P-2": weekly([90] * 4)},
        {"P-1": weekly([30] * 9), "P-2": [StageInterval(left=200, ending="waiting")] * 9},
    ],
    ids=["none", "one origin", "too few", "none moved on"],
)
def test_where_there_is_nothing_to_compare_nothing_is_named(rows):
    assert origins_apart(rows) is None


def test_those_still_waiting_count():
    late = weekly([60] * 5) + [StageInterval(left=100, ending="waiting")] * 4
    found = origins_apart({"P-1": weekly([28] * 9), "P-2": late})
    assert found is not None
    assert found.later_day == 59.5
