"""Does an unsown control tray tell on the house and the day, and on what was sown there then?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.models import TrayCheck
from batches.services.checks import record_check
from batches.services.overdue import overdue_lines
from batches.services.standing import refold
from batches.services.strays import stray_spores, why_suspected
from batches.services.strikes import strike_out
from tests import factories as make

pytestmark = pytest.mark.django_db
SOWN_ON = make.STARTED_ON


@pytest.fixture
def mist():
    return make.BenchFactory(house=make.HouseFactory(name="Mist house"))


def sown(bench, *, days: int = 0, **more):
    start = SOWN_ON + timedelta(days=days)
    return make.TrayFactory(bench=bench, started_on=start, start_stage="sown", **more)


def look(tray, **seen):
    return record_check(tray=tray, seen_at=make.NOW, now=make.NOW, by="Bryn Hale", **seen).check


def test_what_grows_in_a_control_counts_against_the_house_and_the_day(mist):
    control = sown(mist, control=True)
    then = [sown(mist), sown(mist, days=3)]
    sown(mist, days=4)
    sown(make.BenchFactory())
    sown(mist, control=True)
    assert stray_spores() == ()
    look(control, stage_seen="gametophyte")
    (stray,) = stray_spores()
    assert stray.house == mist.house
    assert (stray.around, stray.seen_on) == (SOWN_ON, make.TODAY)
    assert [tray.code for tray in stray.suspects] == [tray.code for tray in then]
    assert "showed prothalli" in why_suspected(tray=then[0])[0]


@pytest.mark.parametrize(
    ("sign", "grows"), [("moss_liverwort", True), ("heart_shapes", True), ("dry", False)]
)
def test_only_what_came_through_the_air_counts(mist, sign, grows):
    control = sown(mist, control=True)
    look(control, signs=[sign])
    assert bool(stray_spores()) is grows


def test_where_a_tray_was_sown_counts_and_not_where_it_stands_now(mist):
    control = sown(mist, control=True)
    moved, came = sown(mist), sown(make.BenchFactory())
    for tray, bench in ((moved, make.BenchFactory()), (came, mist)):
        make.PlaceFactory(tray=tray, bench=bench, on=make.TODAY)
        tray.bench = bench
        tray.save(update_fields=["bench"])
    look(control, signs=["algae"])
    assert [tray.code for tray in stray_spores()[0].suspects] == [moved.code]


def test_a_look_struck_out_lifts_it(mist):
    control, tray = sown(mist, control=True), sown(mist)
    look(control, signs=["rogue_fern"])
    assert why_suspected(tray=tray)
    strike_out(row=TrayCheck.objects.get(), by="Greta Lunn", now=make.NOW)
    assert stray_spores() == ()
    assert why_suspected(tray=tray) == ()


def test_a_rogue_fern_in_a_sister_is_told_with_its_lot_and_day(mist):
    lot = make.SporeLotFactory()
    odd, sister = (sown(mist, batch=make.BatchFactory(spore_lot=lot)) for _ in range(2))
    look(odd, signs=["rogue_fern"])
    assert why_suspected(tray=sister) == (
        f"A rogue fern was seen in a tray of its lot {lot.code} on Wed 10 Jun 2026.",
    )


def test_a_control_is_looked_at_like_the_others(mist):
    control, tray = sown(mist, control=True), sown(mist)
    refold(trays=[control, tray], recorded_at=make.NOW)
    due = {line.tray: line.kind for line in overdue_lines(on=make.TODAY, today=make.TODAY)}
    assert due == {control.code: "look", tray.code: "look"}


def test_queries_do_not_grow_with_the_trays(mist, django_assert_num_queries):
    for _ in range(3):
        look(sown(mist, control=True), signs=["algae"])
    with django_assert_num_queries(4):
        stray_spores()
    for _ in range(27):
        sown(mist)
        look(sown(mist, control=True), signs=["algae"])
    with django_assert_num_queries(4):
        assert len(stray_spores()) == 30
