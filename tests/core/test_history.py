"""What do looks prove?"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from batches.core.history import Look, Passage, Standing, passages, standing
from batches.core.stages import ROUTES, Route, Stage, is_ahead

START = date(2026, 1, 5)


def day(n: int) -> date:
    return START + timedelta(days=n)


def look(n: int, stage: Stage | None = None, *, glance: bool = False) -> Look:
    return Look(on=day(n), stage_seen=stage, glance=glance, id=f"look {n}")


def proved(looks, **more):
    settings: dict[str, Any] = {
        "route": Route.SPORE,
        "start_stage": Stage.SOWN,
        "started_on": START,
    }
    return passages(looks, **(settings | more))


def test_without_a_look_before_the_beginning_bounds_the_interval():
    (found,) = proved([look(30, Stage.GAMETOPHYTE)])
    assert (found.not_before, found.seen_on, found.look_id) == (None, day(30), "look 30")


def test_a_skipped_stage_gets_the_same_interval():
    found = proved([look(10), look(40, Stage.FIRST_FROND)])
    assert [(p.to_stage, p.not_before, p.seen_on) for p in found] == [
        (Stage.GAMETOPHYTE, day(10), day(40)),
        (Stage.FIRST_FROND, day(10), day(40)),
    ]


def test_a_done_stage_has_its_day():
    found = proved([look(10), look(40, Stage.PRICKED_OUT)])
    assert (found[-1].to_stage, found[-1].not_before) == (Stage.PRICKED_OUT, day(39))
    assert found[-2].not_before == day(10)


def test_a_glance_moves_no_not_before_and_a_look_back_moves_nothing():
    found = proved([
        look(10), look(20, glance=True), look(30, Stage.GAMETOPHYTE), look(40, Stage.SOWN),
        look(50, Stage.GAMETOPHYTE),
    ])  # fmt: skip
    assert [(p.not_before, p.seen_on) for p in found] == [(day(10), day(30))]


def test_a_stage_of_another_route_proves_nothing():
    assert proved([look(10, Stage.ROOTED)]) == ()


def test_what_was_stated_is_not_proved_again():
    stated = Passage(
        from_stage=Stage.SOWN, to_stage=Stage.GAMETOPHYTE, not_before=day(5), seen_on=day(12)
    )
    found = proved(
        [look(10), look(20, Stage.GAMETOPHYTE), look(60, Stage.FIRST_FROND)], known=[stated]
    )
    assert [p.to_stage for p in found] == [Stage.FIRST_FROND]


def test_the_clock_starts_in_the_middle_of_the_interval():
    assert Standing(stage=Stage.SOWN, not_before=None, seen_on=day(8)).origin == day(8)
    even = Standing(stage=Stage.SOWN, not_before=day(0), seen_on=day(8))
    odd = Standing(stage=Stage.SOWN, not_before=day(0), seen_on=day(7))
    assert (even.origin, even.origin_half_day) == (day(4), 0.0)
    assert (odd.origin, odd.origin_half_day) == (day(3), 0.5)


looks_of_a_year = st.lists(
    st.tuples(st.integers(0, 365), st.sampled_from([None, *ROUTES[Route.SPORE]]), st.booleans()),
    max_size=15,
)


def naive(looks):
    """For each stage: the first close look that shows it or a later one, and the last before."""
    order = ROUTES[Route.SPORE]
    close = [one for one in looks if not one.glance]
    found = {}
    for stage in order[1:]:
        showing = [
            place
            for place, one in enumerate(close)
            if one.stage_seen is not None and order.index(one.stage_seen) >= order.index(stage)
        ]
        if showing:
            first = showing[0]
            before = close[first - 1].on if first else None
            found[stage] = (before, close[first].on)
    return found


@given(looks_of_a_year)
def test_against_a_naive_reading(rows):
    looks = [
        Look(on=day(n), stage_seen=None if glance else stage, glance=glance)
        for n, stage, glance in sorted(rows, key=lambda row: row[0])
    ]
    found = proved(looks)
    expected = naive(looks)
    assert {p.to_stage: p.seen_on for p in found} == {s: seen for s, (_, seen) in expected.items()}
    for passage in found:
        if passage.to_stage not in (Stage.PRICKED_OUT, Stage.POTTED_UP):
            assert passage.not_before == expected[passage.to_stage][0]


@given(looks_of_a_year)
def test_a_tray_stands_in_the_furthest_stage_seen(rows):
    looks = [look(n, stage) for n, stage, _ in sorted(rows, key=lambda row: row[0])]
    here = standing(proved(looks), start_stage=Stage.SOWN, started_on=START, route=Route.SPORE)
    seen = [one.stage_seen for one in looks if one.stage_seen is not None]
    assert not any(is_ahead(Route.SPORE, stage, here.stage) for stage in seen)
