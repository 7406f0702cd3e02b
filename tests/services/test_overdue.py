"""Does Today name what is due and late, in the right order and with its reason?"""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from batches.core.stages import Stage
from batches.models import Treatment
from batches.services import standing
from batches.services.overdue import overdue_lines
from batches.services.refits import refit
from tests.factories import (
    NOW,
    TODAY,
    ZONE,
    BenchFactory,
    SourceFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db


def tray_started(days_ago: int, *, looks=(), **more):
    start = TODAY - timedelta(days=days_ago)
    one = TrayFactory(started_on=start, stage_seen_on=start, **more)
    for ago, fields in looks:
        seen = datetime.combine(TODAY - timedelta(days=ago), NOW.timetz())
        TrayCheckFactory(tray=one, seen_at=seen, **fields)
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def lines(kind: str, *, on: date = TODAY, today: date = TODAY):
    return [line for line in overdue_lines(on=on, today=today) if line.kind == kind]


def test_a_look_is_due_after_the_stages_days_and_says_when_it_was_looked_at():
    one = tray_started(30, looks=[(8, {})])
    (line,) = lines("look")
    assert (line.tray, line.due_on, line.days_late) == (one.code, TODAY - timedelta(days=1), 1)
    assert line.lateness == pytest.approx(1 / 7)
    assert "8 days ago" in line.reason
    assert "every 7 days" in line.reason


def test_a_tray_looked_at_in_time_has_no_line():
    tray_started(30, looks=[(3, {})])
    assert overdue_lines(on=TODAY, today=TODAY) == ()


def test_mould_calls_for_a_look_in_two_days():
    tray_started(30, looks=[(2, {"signs": "mould"})])
    (line,) = lines("look")
    assert line.days_late == 0
    assert "mould" in line.reason


def test_late_in_its_stage_names_the_days_and_the_window():
    one = tray_started(100, looks=[(3, {})])
    (line,) = lines("stage")
    assert (line.tray, line.stage, line.days_late) == (one.code, "sown", 10)
    assert line.lateness == pytest.approx(10 / 90)
    assert line.reason == (
        "100 days since sowing, no green yet; nine in ten should take 90 at most (default window)."
    )


def test_past_the_late_day_without_a_look_since_only_a_look_is_due():
    tray_started(100, looks=[(20, {})])
    assert lines("stage") == []
    assert len(lines("look")) == 1


def test_no_germination_by_the_long_stop_day_asks_for_a_decision():
    tray_started(181, looks=[(1, {})])
    (line,) = lines("decision")
    assert "re-sow, wait or discard" in line.reason
    assert line.days_late == 1


def test_a_control_tray_is_looked_at_and_never_late():
    tray_started(400, looks=[(20, {})], control=True)
    assert [line.kind for line in overdue_lines(on=TODAY, today=TODAY)] == ["look"]


def test_ordered_by_lateness_not_by_bare_days():
    slow = tray_started(120, looks=[(25, {})])
    mouldy = tray_started(30, looks=[(8, {"signs": "mould"})])
    found = lines("look")
    assert [line.tray for line in found] == [mouldy.code, slow.code]
    assert found[0].days_late < found[1].days_late


def test_a_past_day_uses_only_what_was_seen_by_then():
    one = tray_started(60, looks=[(40, {}), (30, {"stage_seen": str(Stage.GAMETOPHYTE)}), (3, {})])
    then = TODAY - timedelta(days=32)
    (line,) = overdue_lines(on=then, today=TODAY)
    assert (line.tray, line.kind, line.stage) == (one.code, "look", "sown")
    assert line.due_on == TODAY - timedelta(days=33)


def test_the_stored_answer_equals_the_refolded_one():
    tray_started(181, looks=[(1, {})])
    tray_started(100, looks=[(20, {})])
    tray_started(60, looks=[(9, {"signs": "dry"})])
    refit(on=TODAY, now=NOW)
    stored = overdue_lines(on=TODAY, today=TODAY)
    refolded = overdue_lines(on=TODAY, today=TODAY + timedelta(days=1))
    assert stored == refolded
    assert len(stored) == 4


def test_a_lot_dry_enough_is_cleaned_and_green_spores_are_sown_soon():
    dry = SporeLotFactory(
        taxon=TaxonFactory(spore_kind="not_green"), collected_on=TODAY - timedelta(days=6),
        drying_since=TODAY - timedelta(days=6), cleaned_on=None,
    )  # fmt: skip
    green = SporeLotFactory(
        taxon=TaxonFactory(spore_kind="green"), collected_on=TODAY - timedelta(days=5),
        drying_since=None, cleaned_on=None,
    )  # fmt: skip
    found = {line.lot: line for line in lines("lot")}
    assert set(found) == {dry.code, green.code}
    assert "dry enough to clean after 4" in found[dry.code].reason
    assert found[green.code].due_on == TODAY - timedelta(days=2)


def test_a_stock_plant_asks_for_a_look_at_its_sori_once_a_season():
    week = TODAY.isocalendar().week
    plant = SourceFactory(kind="stock_plant", ripe_from_week=week - 1, ripe_to_week=week + 2)
    (line,) = lines("sori")
    assert line.lot == plant.code
    plant.sori_looked_on = TODAY
    plant.save()
    assert lines("sori") == []


def test_a_shut_house_leaves_the_round_and_comes_back():
    bench = BenchFactory()
    one = tray_started(30, looks=[(9, {})], bench=bench)
    Treatment.objects.create(
        done_at=datetime(TODAY.year, TODAY.month, TODAY.day, 8, tzinfo=ZONE), product="a wash",
        place_or_trays=bench.house.code, operator="Orla", reentry_hours=4, recorded_at=NOW,
    )  # fmt: skip
    shut_at = datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=ZONE)
    assert overdue_lines(on=TODAY, today=TODAY, now=shut_at) == ()
    later = shut_at + timedelta(hours=4)
    kinds = {line.kind: line for line in overdue_lines(on=TODAY, today=TODAY, now=later)}
    assert set(kinds) == {"look", "return"}
    assert kinds["look"].tray == one.code
    assert kinds["return"].bench == bench.house.code


def test_what_was_shut_as_a_tray_comes_back_as_that_tray():
    one, other = (tray_started(30, looks=[(29, {})], bench=BenchFactory()) for _ in range(2))
    Treatment.objects.create(
        done_at=datetime(TODAY.year, TODAY.month, TODAY.day, 8, tzinfo=ZONE), product="a wash",
        place_or_trays=f"{one.code} {other.code}", operator="Orla", reentry_hours=4,
        recorded_at=NOW,
    )  # fmt: skip
    later = datetime(TODAY.year, TODAY.month, TODAY.day, 13, tzinfo=ZONE)
    found = [
        (line.tray, line.bench, line.taxon)
        for line in overdue_lines(on=TODAY, today=TODAY, now=later)
        if line.kind == "return"
    ]
    assert sorted(found) == sorted(
        (tray.code, tray.bench.code, tray.batch.taxon.code) for tray in (one, other)
    )


def test_queries_do_not_grow_with_the_lines(django_assert_max_num_queries):
    for _ in range(3):
        tray_started(30, looks=[(9, {})])
    with django_assert_max_num_queries(9) as few:
        overdue_lines(on=TODAY, today=TODAY)
    for _ in range(27):
        tray_started(30, looks=[(9, {})])
    with django_assert_max_num_queries(len(few)):
        assert len(overdue_lines(on=TODAY, today=TODAY)) == 30
