"""Does a struck-out row count no more, stay readable, and never break the stock book?"""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction

from batches.core.errors import AlreadyTaken, LedgerDoesNotBalance, NotPossibleNow
from batches.models import Place, PlantMovement, StageTransition, TrayCheck
from batches.services.checks import record_check
from batches.services.dispatching import dispatch
from batches.services.ending import discard, reopen
from batches.services.moves import move
from batches.services.picking import Filling, ParentAfter, Take, pot_up
from batches.services.standing import differing, refold
from batches.services.strikes import strike_out
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


def look(tray, *, days=0, hour=9, **more):
    moment = make.at(TODAY - timedelta(days=days), hour)
    return record_check(tray=tray, seen_at=moment, now=moment, by="Una Tarn", **more)


def strike(row, **more):
    return strike_out(row=row, by="Maeve Corrin", now=make.at(TODAY, 15), **more)


@pytest.fixture
def plugs():
    tray = make.TrayFactory(cells_of_84=True, counted=84)
    refold(trays=[tray], recorded_at=make.NOW)
    tray.refresh_from_db()
    return tray


def test_a_struck_look_takes_its_losses_and_its_recount_with_it(plugs):
    check = look(plugs, count=70, losses=[(4, "rot"), (2, "slugs")], signs=["rot"]).check

    result = strike(check)

    assert result.created
    assert len(result.also) == 3
    assert (result.tray.alive, result.tray.last_look_on, result.tray.last_signs) == (84, None, "")
    assert TrayCheck.objects.count() == 2
    assert list(TrayCheck.objects.struck()) == [check]
    assert PlantMovement.objects.count() == 7
    assert differing()[1] == ()


def test_a_struck_loss_or_recount_alone_gives_its_plants_back(plugs):
    loss = look(plugs, days=3, losses=[(4, "rot")])
    strike(PlantMovement.objects.get(kind="loss"))
    plugs.refresh_from_db()
    assert plugs.alive == 84

    recount = look(plugs, days=1, count=70).recount
    strike(recount)
    plugs.refresh_from_db()
    assert plugs.alive == 84
    assert TrayCheck.objects.standing().filter(pk=loss.check.pk).exists()


def test_a_recount_that_somebody_set_aside_is_not_written_again(plugs):
    strike(look(plugs, days=1, count=70).recount)

    look(plugs, days=5, losses=[(4, "rot")])

    plugs.refresh_from_db()
    assert plugs.alive == 80


def test_an_exact_count_after_a_struck_loss_still_holds(plugs):
    first = look(plugs, days=5, losses=[(10, "rot")])
    look(plugs, days=2, count=60)

    result = strike(first.check)

    assert result.tray.alive == 60
    standing = PlantMovement.objects.standing().filter(kind="recount")
    assert [row.quantity for row in standing] == [-24]


def test_a_struck_first_count_is_replaced_by_the_next_one():
    tray = make.TrayFactory()
    first = look(tray, days=5, count=60)
    look(tray, days=2, count=50)

    result = strike(first.check)

    assert result.tray.alive == 50
    row = PlantMovement.objects.standing().get()
    assert (row.kind, row.quantity) == ("in", 50)


def test_striking_twice_is_one_and_a_strike_out_is_not_struck(plugs):
    check = look(plugs, losses=[(4, "rot")]).check
    record_id = uuid.uuid4()

    first = strike(check, record_id=record_id)
    again = strike(check, record_id=record_id)
    from_elsewhere = strike(check)

    assert (first.created, again.created, from_elsewhere.created) == (True, False, False)
    assert first.strike == again.strike == from_elsewhere.strike
    with pytest.raises(NotPossibleNow, match="enter the look again as a new one"):
        strike(first.strike)
    with pytest.raises(AlreadyTaken):
        strike(look(plugs, hour=10).check, record_id=record_id)


def test_what_would_leave_less_than_nothing_is_not_struck():
    tray = make.TrayFactory(carrier=True, counted=20)
    counted_in = PlantMovement.objects.get()
    look(tray, days=4, count=30)
    dispatch(tray=tray, quantity=25, on=TODAY, by="Oonagh Pell", now=make.NOW, recipient="a shop")

    with pytest.raises(LedgerDoesNotBalance, match="5 more would have left"):
        strike(PlantMovement.objects.get(kind="recount"))
    assert strike(counted_in).tray.alive == 5
    with pytest.raises(LedgerDoesNotBalance, match="25 pots left tray"):
        strike(PlantMovement.objects.standing().get(kind="in"))

    assert differing()[1] == ()


def test_a_passage_read_out_of_looks_is_not_struck_but_its_look_is():
    tray = make.TrayFactory()
    check = look(tray, stage_seen="gametophyte").check
    derived = StageTransition.objects.get()

    with pytest.raises(NotPossibleNow, match="strike out the look of Wed 10 Jun 2026"):
        strike(derived)
    assert strike(check).tray.stage == "sown"
    assert not StageTransition.objects.standing().exists()


def test_a_correction_is_struck_with_the_look_that_stated_it():
    tray = make.TrayFactory()
    look(tray, days=3, stage_seen="first_frond")
    back = look(tray, stage_seen="gametophyte", correction=True)
    assert back.tray.stage == "gametophyte"

    assert strike(back.check).tray.stage == "first_frond"


def test_a_stated_passage_is_struck():
    tray = make.TrayFactory()
    row = make.StageTransitionFactory(tray=tray)
    refold(trays=[tray], recorded_at=make.NOW)

    assert strike(row).tray.stage == "sown"


def test_a_struck_move_puts_the_tray_back_and_its_partner_too():
    bench = make.BenchFactory()
    a = make.TrayFactory(bench=bench, row=1, column=1)
    b = make.TrayFactory(bench=bench, row=1, column=2)
    move(trays=[a], bench=bench, row=1, column=2, on=TODAY, by="", now=make.NOW, swap=True)

    strike(Place.objects.get(tray=a, on=TODAY))

    a.refresh_from_db()
    b.refresh_from_db()
    assert (a.row, a.column, b.row, b.column) == (1, 1, 1, 2)


def test_a_tray_that_goes_back_to_a_taken_place_stands_loose_on_the_bench():
    bench, far = make.BenchFactory.create_batch(2)
    tray = make.TrayFactory(bench=bench, row=1, column=1)
    move(trays=[tray], bench=far, on=TODAY, by="", now=make.NOW)
    make.TrayFactory(bench=bench, row=1, column=1)

    strike(Place.objects.get(tray=tray, on=TODAY))

    tray.refresh_from_db()
    assert (tray.bench, tray.row) == (bench, None)


def test_a_struck_picking_gives_back_what_left_and_clears_the_tray_that_was_never_filled(plugs):
    result = pot_up(
        fillings=[
            Filling(
                takes=[Take(parent=plugs, left=84, arrived=84)],
                container="carrier",
                pot_size="9 cm",
            )
        ],
        parents=[ParentAfter(parent=plugs, end=True)],
        on=TODAY,
        by="Una Tarn",
        now=make.NOW,
    )
    (child,) = result.children

    struck = strike(result.movements[0])

    child.refresh_from_db()
    assert (struck.tray.alive, struck.tray.end) == (84, "")
    assert struck.tray.first_picked_on is None
    assert (child.end, child.alive) == ("cleared", None)
    assert "stands again" in struck.message
    assert "was never filled" in struck.message
    assert differing()[1] == ()


def test_a_picking_of_which_plants_went_further_is_not_struck(plugs):
    result = pot_up(
        fillings=[
            Filling(
                takes=[Take(parent=plugs, left=30, arrived=30)],
                container="carrier",
                pot_size="9 cm",
            )
        ],
        on=TODAY,
        by="",
        now=make.NOW,
    )
    (child,) = result.children
    dispatch(tray=child, quantity=10, on=TODAY, by="", now=make.NOW)

    with pytest.raises(LedgerDoesNotBalance, match="10 pots left tray"):
        strike(result.movements[0])


def test_a_discard_is_taken_back_whole_not_struck_by_halves(plugs):
    discard(tray=plugs, cause="mould", on=TODAY, by="", now=make.NOW)
    loss = PlantMovement.objects.get(kind="loss")

    with pytest.raises(NotPossibleNow, match="take the discard back first"):
        strike(loss)
    result = reopen(tray=plugs, by="Maeve Corrin", now=make.at(TODAY, 16))

    assert (result.tray.alive, result.tray.end, result.tray.end_cause) == (84, "", "")
    assert PlantMovement.objects.struck().get() == loss
    again = discard(tray=plugs, cause="mould", on=TODAY, by="", now=make.at(TODAY, 17))
    assert again.lost == 84
    assert differing()[1] == ()


def test_the_database_itself_refuses_to_change_or_delete_what_happened(plugs):
    look(plugs, losses=[(1, "rot")])

    for model in (TrayCheck, PlantMovement):
        with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
            model.objects.update(by="nobody")
        with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
            model.objects.all()._raw_delete("default")
