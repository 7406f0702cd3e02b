"""Does a tray end with everything accounted for, and is a good one not thrown out as moss?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.errors import ChangedMeanwhile, NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import PlantMovement, Tray
from batches.services.checks import record_check
from batches.services.ending import SecondLookNeeded, clear, discard, needs_second_look, reopen
from batches.services.standing import refold
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


def look(tray, *, days, by="Una Tarn", **more):
    moment = make.at(TODAY - timedelta(days=days))
    return record_check(tray=tray, seen_at=moment, now=moment, by=by, **more)


def throw_out(tray, cause="mould", **more):
    return discard(tray=tray, cause=cause, by="Una Tarn", **({"on": TODAY, "now": make.NOW} | more))


@pytest.fixture
def plugs():
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    refold(trays=[tray], recorded_at=make.NOW)
    tray.refresh_from_db()
    return tray


def test_an_emptied_or_uncounted_tray_is_cleared_and_a_counted_one_is_not(plugs):
    mat = make.TrayFactory()

    assert clear(tray=mat, on=TODAY, now=make.NOW).tray.end == "cleared"
    assert not clear(tray=mat, on=TODAY, now=make.NOW).created
    with pytest.raises(NotPossibleNow, match="84 plants are still in tray"):
        clear(tray=plugs, on=TODAY, now=make.NOW)
    look(plugs, days=0, losses=[(84, "rot")])
    assert clear(tray=plugs, on=TODAY, now=make.NOW).created


def test_a_discard_writes_off_what_was_alive_and_keeps_the_history(plugs):
    look(plugs, days=2, losses=[(4, "rot")])

    result = throw_out(plugs, "vine_weevil")

    assert (result.lost, result.tray.alive, result.tray.due_on) == (80, 0, None)
    row = PlantMovement.objects.get(cause="vine_weevil")
    assert (row.kind, row.quantity, row.on) == ("loss", 80, TODAY)
    assert plugs.checks.count() == 1
    assert not throw_out(plugs, "vine_weevil").created
    with pytest.raises(NotPossibleNow, match=r"was discarded .* \(vine weevil\)"):
        throw_out(plugs, "rot")


def test_a_young_covered_tray_asks_for_a_second_look():
    tray = make.TrayFactory()
    look(tray, days=0, signs=["moss_liverwort"])

    with pytest.raises(SecondLookNeeded, match="easily taken for moss") as refused:
        throw_out(tray, "moss_liverwort")

    assert refused.value.field == "second_look"
    assert Tray.objects.get().ended_on is None
    assert throw_out(tray, "moss_liverwort", second_look=True).created


def test_two_looks_on_two_days_or_by_two_people_are_a_second_look():
    one, two, glanced = make.TrayFactory.create_batch(3)
    look(one, days=3, signs=["algae"])
    look(one, days=0, signs=["algae", "mould"])
    look(two, days=0, signs=["algae"])
    look(two, days=0, by="Maeve Corrin", signs=["algae"])
    look(glanced, days=3, signs=["mould"])
    look(glanced, days=0, signs=["algae"])

    assert throw_out(one, "algae").created
    assert throw_out(two, "algae").created
    assert needs_second_look(tray=glanced, cause="algae", on=TODAY)


@pytest.mark.parametrize(
    ("cause", "after_days", "asked"),
    [
        ("moss_liverwort", 179, True),
        ("moss_liverwort", 180, False),
        ("surplus", 10, True),
        ("no_germination", 10, False),
    ],
)
def test_the_second_look_is_asked_in_the_first_180_days(cause, after_days, asked):
    # Common practice, no source: half a year covers the first green of most hardy ferns.
    tray = make.TrayFactory()

    day = tray.started_on + timedelta(days=after_days)

    assert needs_second_look(tray=tray, cause=cause, on=day) is asked


def test_a_cell_tray_is_thrown_out_without_a_second_look(plugs):
    assert not needs_second_look(tray=plugs, cause="rot", on=TODAY)


def test_a_tray_in_which_green_was_seen_did_germinate():
    tray = make.TrayFactory()
    look(tray, days=3, stage_seen="gametophyte")

    with pytest.raises(NotPossibleNow, match="it did germinate"):
        throw_out(tray, "no_germination")
    assert throw_out(make.TrayFactory(), "no_germination").lost == 0


def test_bad_days_and_causes_end_nothing(plugs):
    look(plugs, days=1)

    with pytest.raises(OutOfTime, match="future"):
        throw_out(plugs, on=TODAY + timedelta(days=1))
    with pytest.raises(OutOfTime, match="has records up to Tue 9 Jun 2026"):
        throw_out(plugs, on=TODAY - timedelta(days=2))
    with pytest.raises(NotUnderstood, match="is not a cause"):
        throw_out(plugs, "eaten")
    with pytest.raises(NotUnderstood):
        throw_out(plugs, "")
    with pytest.raises(ChangedMeanwhile):
        throw_out(plugs, revision=plugs.revision + 7)

    assert Tray.objects.get().ended_on is None


def test_an_ending_taken_back_stands_the_tray_where_there_is_room():
    bench = make.BenchFactory()
    tray = make.TrayFactory(bench=bench, row=1, column=1)
    clear(tray=tray, on=TODAY, now=make.NOW)
    make.TrayFactory(bench=bench, row=1, column=1)

    result = reopen(tray=tray, by="Maeve Corrin", now=make.NOW)

    assert (result.tray.is_active, result.tray.bench, result.tray.row) == (True, bench, None)
    assert not reopen(tray=tray, by="Maeve Corrin", now=make.NOW).created
