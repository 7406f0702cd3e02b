"""Does nothing of a held tray leave, do its plants stay held where they go, is every word kept?"""

from __future__ import annotations

from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.models import TrayHold
from batches.services.availability import availability
from batches.services.bench_day import bench_day
from batches.services.bench_map import house_plans
from batches.services.dispatch_list import to_pick
from batches.services.dispatching import dispatch
from batches.services.holds import (
    alarms,
    alarms_over,
    hold_trays,
    holds_of,
    lift_alarm,
    require_not_held,
    trays_of_alarm,
)
from batches.services.map_filters import HELD, Filters, benches_of_map
from batches.services.orders_leaving import orders_leaving
from batches.services.picking import Filling, Take, pot_up
from batches.services.selecting import select_form
from batches.services.standing import refold
from tests.factories import NOW, TODAY, BenchFactory, OrderFactory, PersonFactory, TrayFactory

pytestmark = pytest.mark.django_db
WHY = "Leaf spots on pots of this lot."


def hold(*trays, reason=WHY, **more):
    given: dict[str, Any] = {"traced_from": "lot L1", "by": "Bryn Hale", "now": NOW} | more
    return hold_trays(codes=[tray.code for tray in trays], reason=reason, **given)


@pytest.fixture
def carrier():
    tray = TrayFactory(
        carrier=True, counted=40, stage="ready", start_stage="potted_up", bench=BenchFactory()
    )
    refold(trays=[tray], recorded_at=NOW)
    type(tray).objects.filter(pk=tray.pk).update(stage="ready")
    tray.refresh_from_db()
    return tray


def send(tray, **more):
    return dispatch(
        tray=tray, quantity=5, on=TODAY, by="Odile Marsh", now=NOW, recipient="Kiln Yard", **more
    )


def test_a_held_tray_is_neither_sent_nor_picked_for_an_order(carrier):
    PersonFactory(name="Greta Lunn", role="manager")
    order = OrderFactory(taxon=carrier.batch.taxon, quantity=10, pot_size="")
    result = hold(carrier)
    assert (result.held, result.created) == (1, True)
    for more in ({}, {"order": order}):
        with pytest.raises(NotPossibleNow) as refused:
            send(carrier, **more)
        for words in ("held since", "Bryn Hale", WHY, "Greta Lunn", "nothing was stored"):
            assert words in refused.value.message
    carrier.refresh_from_db()
    assert carrier.alive == 40


def test_lifted_with_a_reason_it_leaves_again_and_both_words_stay(carrier):
    alarm = hold(carrier).alarm
    with pytest.raises(NotUnderstood, match="why"):
        lift_alarm(alarm=alarm, reason="  ", by="Greta Lunn", now=NOW)
    assert lift_alarm(alarm=alarm, reason="Only scorch.", by="Greta Lunn", now=NOW) == 1
    assert send(carrier).movement.quantity == 5
    (row,) = holds_of(tray=carrier)
    assert (row.reason, row.struck_by.reason, row.struck_by.by) == (
        WHY, "Only scorch.", "Greta Lunn",
    )  # fmt: skip
    with pytest.raises(NotPossibleNow, match="lifted already"):
        lift_alarm(alarm=alarm, reason="Once more.", by="Greta Lunn", now=NOW)
    assert alarms() == ()
    assert [one.alarm for one in alarms_over()] == [alarm]


def test_two_alarms_must_both_be_lifted(carrier):
    first, second = hold(carrier), hold(carrier, reason="Vine weevil next door.")
    lift_alarm(alarm=first.alarm, reason="Only scorch.", by="Greta Lunn", now=NOW)
    with pytest.raises(NotPossibleNow, match="Vine weevil"):
        require_not_held(carrier)
    lift_alarm(alarm=second.alarm, reason="None found.", by="Greta Lunn", now=NOW)
    require_not_held(carrier)


def test_some_trays_of_an_alarm_are_let_go_and_others_not(carrier):
    other = TrayFactory()
    alarm = hold(carrier, other).alarm
    assert lift_alarm(alarm=alarm, reason="Clean.", by="x", now=NOW, codes=[other.code]) == 1
    require_not_held(other)
    with pytest.raises(NotPossibleNow):
        require_not_held(carrier)
    assert {row.tray for row in trays_of_alarm(alarm=alarm)} == {carrier, other}
    (still,) = alarms()
    assert (still.trays, still.reason, still.by) == (1, WHY, "Bryn Hale")


def test_sent_twice_it_is_held_once(carrier):
    once = uuid4()
    hold(carrier, record_id=once)
    again = hold(carrier, record_id=once)
    assert (again.created, TrayHold.objects.count()) == (False, 1)


def test_without_a_reason_or_a_standing_tray_nothing_is_held(carrier):
    with pytest.raises(NotUnderstood, match="why"):
        hold(carrier, reason=" ")
    with pytest.raises(NotPossibleNow, match="None of these"):
        hold(TrayFactory(ended_on=TODAY, end="cleared"))
    assert not TrayHold.objects.exists()


def test_what_is_potted_out_of_a_held_tray_stays_held():
    cells = TrayFactory(cells_of_84=True, counted=80, stage="pricked_out")
    refold(trays=[cells], recorded_at=NOW)
    alarm = hold(cells).alarm
    take = Take(parent=cells, left=40, arrived=40)
    pots = pot_up(
        fillings=[Filling(takes=[take], container="carrier 9 cm", pot_size="9 cm")],
        on=TODAY, by="Una Tarn", now=NOW,
    ).children[0]  # fmt: skip
    with pytest.raises(NotPossibleNow, match="Leaf spots"):
        require_not_held(pots)
    assert lift_alarm(alarm=alarm, reason="Only scorch.", by="Greta Lunn", now=NOW) == 2
    require_not_held(pots)


def test_a_form_selected_out_of_a_held_tray_stays_held():
    cells = TrayFactory(cells_of_84=True, counted=80, stage="pricked_out")
    refold(trays=[cells], recorded_at=NOW)
    hold(cells)
    chosen = select_form(
        tray=cells, quantity=1, on=TODAY, by="Una Tarn", now=NOW, container="pot 9 cm"
    )
    with pytest.raises(NotPossibleNow, match="Leaf spots"):
        require_not_held(chosen.tray)


def test_the_tablet_is_told_of_it():
    tray = TrayFactory()
    hold(tray)
    other = TrayFactory()
    told = {one["code"]: one["held"] for one in bench_day(today=TODAY, now=NOW)["trays"]}
    assert told == {tray.code: WHY, other.code: ""}


def test_held_pots_are_offered_to_nobody_and_said_to_be_held(carrier):
    order = OrderFactory(
        taxon=carrier.batch.taxon, quantity=10, pot_size="", wanted_on=TODAY + timedelta(days=2)
    )
    assert to_pick()[0].picks[0].pots == 10
    hold(carrier)
    (line,) = to_pick()
    assert (line.order, line.picks, line.short, line.held) == (order, (), 10, 40)
    row = next(one for one in availability(today=TODAY) if one.size == carrier.pot_size)
    assert (row.ready, row.held) == (0, 40)
    (leaving,) = orders_leaving(until=TODAY + timedelta(days=7))
    assert (leaving.ready, leaving.short) == (0, 10)


def test_the_map_shows_it_as_held_before_all_but_a_shut_door(carrier):
    type(carrier).objects.filter(pk=carrier.pk).update(row=1, column=1, isolated=True)
    plain = TrayFactory(bench=carrier.bench, row=1, column=2)
    hold(carrier)
    only = Filters(sign=HELD)
    benches = benches_of_map(filters=only, today=TODAY)
    (house,) = house_plans(today=TODAY, now=NOW, filters=only, benches=benches)
    cells = [cell for cells in house.benches[0].places.values() for cell in cells]
    cells += house.benches[0].loose
    by_code = {cell.code: cell for cell in cells}
    assert by_code[carrier.code].state == "held"
    assert "held: nothing of it leaves" in by_code[carrier.code].words
    assert (by_code[carrier.code].fits, by_code[plain.code].fits) == (True, False)


def test_many_are_held_and_listed_at_the_cost_of_few(django_assert_max_num_queries):
    few = [TrayFactory() for _ in range(3)]
    with django_assert_max_num_queries(8) as asked:
        hold(*few)
    many = [TrayFactory() for _ in range(30)]
    with django_assert_max_num_queries(len(asked)):
        alarm = hold(*many).alarm
    with django_assert_max_num_queries(1):
        assert len([row.tray.batch.taxon.code for row in trays_of_alarm(alarm=alarm)]) == 30
