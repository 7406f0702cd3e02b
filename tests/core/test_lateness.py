"""Which dates follow from a tray's facts, and is the reason told in words?"""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from batches.core.lateness import (
    DueDates,
    DueFacts,
    Outlook,
    TrayFacts,
    decision_reason,
    due_dates,
    dues,
    is_stage_late,
    look_reason,
    stage_reason,
)
from batches.core.rest import in_weeks
from batches.core.signs import Sign
from batches.core.stages import ROUTES, STAGE_FACTS, FernKind, Stage

START = date(2026, 1, 5)
WINDOW = Outlook(expected_days=30, late_days=90, basis="default window")


def day(n: int) -> date:
    return START + timedelta(days=n)


def facts(**more) -> TrayFacts:
    settings = {
        "stage": Stage.SOWN, "next_stage": Stage.GAMETOPHYTE, "kind": FernKind.HARDY, "rest": None,
        "started_on": START, "origin": START,
    }  # fmt: skip
    return TrayFacts(**(settings | more))


def test_a_fresh_tray_is_looked_at_in_a_week_and_late_on_the_windows_last_day():
    dates = due_dates(facts(), WINDOW)
    assert (dates.look_due_on, dates.expected_on, dates.late_on) == (day(7), day(30), day(90))
    assert (dates.decide_on, dates.due_on) == (day(180), day(7))


def test_half_a_day_of_origin_rounds_the_late_day_up():
    assert due_dates(facts(origin_half_day=0.5), WINDOW).late_on == day(91)


def test_an_ended_tray_has_no_dates():
    dates = due_dates(facts(ended=True), WINDOW)
    assert (dates.look_due_on, dates.late_on, dates.due_on) == (None, None, None)


def test_a_picked_mat_and_a_control_are_late_no_more():
    assert due_dates(facts(picked=True), WINDOW).late_on is None
    control = due_dates(facts(control=True), WINDOW)
    assert (control.late_on, control.decide_on) == (None, None)


def due_facts(one: TrayFacts, dates: DueDates) -> DueFacts:
    """What of a tray's facts and dates decides its lines."""
    return DueFacts(
        stage=one.stage, kind=one.kind, rest=one.rest, look_due_on=dates.look_due_on,
        look_every=dates.look_every, late_on=dates.late_on,
        last_close_look_on=one.last_close_look_on, decide_on=dates.decide_on,
        come_back_on=one.come_back_on, last_picked_on=None, late_days=WINDOW.late_days,
    )  # fmt: skip


def is_late(one: TrayFacts, dates: DueDates, *, on: date) -> bool:
    """Whether it is late in its stage, asked in both ways."""
    late = is_stage_late(
        stage=one.stage, rest=one.rest, late_on=dates.late_on,
        last_close_look_on=one.last_close_look_on, on=on,
    )  # fmt: skip
    assert late is any(due.kind == "stage" for due in dues(due_facts(one, dates), on=on))
    return late


def test_coming_back_is_due_on_its_day():
    picked = facts(
        last_look_on=day(100), last_close_look_on=day(100), stage=Stage.FIRST_FROND, picked=True,
        come_back_on=day(103),
    )  # fmt: skip
    dates = due_dates(picked, WINDOW)
    assert dates.due_on == day(103)


def test_late_only_when_the_last_close_look_was_past_the_late_day():
    for looked, late in ((89, False), (90, True), (120, True)):
        one = facts(last_look_on=day(looked), last_close_look_on=day(looked))
        assert is_late(one, due_dates(one, WINDOW), on=day(125)) is late


def test_a_resting_fern_is_looked_at_monthly_and_not_late():
    rest = (44, 10)
    one = facts(
        stage=Stage.PRICKED_OUT, next_stage=Stage.POTTED_UP, rest=rest,
        started_on=date(2026, 8, 3), origin=date(2026, 8, 3),
        last_look_on=date(2026, 11, 2), last_close_look_on=date(2026, 11, 2),
    )  # fmt: skip
    dates = due_dates(one, Outlook(expected_days=40, late_days=80, basis="default window"))
    assert dates.look_due_on == date(2026, 12, 2)
    assert dates.late_on == date(2026, 10, 22)
    assert not is_late(one, dates, on=date(2026, 12, 10))
    assert is_late(one, dates, on=date(2027, 3, 16))


def test_a_glance_on_the_late_day_itself_asks_for_a_close_look():
    one = facts(last_look_on=day(89), last_close_look_on=day(60))
    dates = due_dates(one, WINDOW)
    assert (dates.late_on, dates.look_due_on) == (day(90), day(90))
    assert look_reason(one, dates, on=day(90)) == (
        "Last looked at yesterday only at a glance; it is past its late day for green, so a "
        "close look is due."
    )


def test_every_stage_that_can_be_late_has_its_words():
    for stages in ROUTES.values():
        for stage, following in pairwise(stages):
            said = stage_reason(facts(stage=stage, next_stage=following), WINDOW, on=day(171))
            assert STAGE_FACTS[stage].beginning in said
            assert STAGE_FACTS[following].not_yet in said
            assert STAGE_FACTS[following].sign
            assert STAGE_FACTS[following].not_yet


def test_reasons_name_the_numbers():
    one = facts(last_look_on=day(8), last_close_look_on=day(8), signs=frozenset({Sign.MOULD}))
    assert look_reason(one, due_dates(one, WINDOW), on=day(11)) == (
        "Last looked at 3 days ago with mould: look every 2 days until that is gone."
    )
    own = Outlook(expected_days=100, late_days=150.4, basis="23 trays of this fern", trays=23)
    late = facts(stage=Stage.GAMETOPHYTE, next_stage=Stage.FIRST_FROND)
    assert stage_reason(late, own, on=day(171)) == (
        "171 days since the first green, no frond yet; nine in ten of 23 trays of this fern "
        "took 150 at most."
    )
    assert decision_reason(facts(), on=day(190)) == (
        "No green 190 days after sowing (decide at 180): re-sow, wait or discard."
    )


@given(st.tuples(st.integers(1, 53), st.integers(1, 53)), st.integers(0, 700), st.integers(1, 300))
def test_no_tray_is_late_inside_its_rest(rest, looked, on_after):
    one = facts(
        stage=Stage.POTTED_UP, next_stage=Stage.READY, rest=rest,
        last_look_on=day(looked), last_close_look_on=day(looked),
    )  # fmt: skip
    dates = due_dates(one, WINDOW)
    on = day(looked + on_after)
    if in_weeks(on, rest):
        assert not is_late(one, dates, on=on)
    if dates.late_on is not None:
        assert not in_weeks(dates.late_on, rest)
        assert dates.expected_on is not None
        assert dates.expected_on <= dates.late_on
