"""Do the lists of lots, batches, ferns and orders say what is there, in few queries?"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from batches.models import Batch, Order, SporeLot
from batches.services.batch_list import batch_rows, batches_shown, trays_of
from batches.services.fern_list import fern_rows, ferns_shown
from batches.services.lot_list import due_with, lot_rows, lots_shown
from batches.services.order_list import close_gone, orders_shown
from batches.services.standing import refold
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


# Lots


def test_lots_are_shown_by_state_fern_and_code():
    kept = make.SporeLotFactory()
    drying = make.SporeLotFactory(
        source__taxon=make.TaxonFactory(green=True),
        collected_on=TODAY, drying_since=TODAY, cleaned_on=None,
    )  # fmt: skip
    ended = make.SporeLotFactory(ended_on=TODAY)

    def shown(show, fern=""):
        return set(lots_shown(show=show, fern=fern, on=TODAY))

    assert shown("kept") == {kept, drying}
    assert shown("drying") == {drying}
    assert shown("ended") == {ended}
    assert shown("all") == {kept, drying, ended}
    assert shown("all", "royal") == {drying}
    assert shown("kept", kept.code.lower()) == {kept}
    assert shown("all", "no such fern") == set()


def test_lots_with_something_due_are_those_that_today_shows():
    make.SporeLotFactory()
    drying = make.SporeLotFactory(
        collected_on=TODAY - timedelta(days=6),
        drying_since=TODAY - timedelta(days=6),
        cleaned_on=None,
    )
    assert list(lots_shown(show="due", fern="", on=TODAY)) == [drying]
    (row,) = lot_rows(lots=[drying], on=TODAY)
    assert row.due is not None
    assert "Drying for 6 days" in row.due.reason
    assert due_with(lot=drying, on=TODAY) == row.due
    assert due_with(lot=drying, on=TODAY - timedelta(days=5)) is None


def test_a_lot_without_a_sow_by_of_its_own_shows_its_ferns():
    lot = make.SporeLotFactory(sow_by=None)
    (row,) = lot_rows(lots=[lot], on=TODAY)
    assert row.sow_by == lot.collected_on + timedelta(days=1_045)


@pytest.mark.parametrize("how_many", [3, 30])
def test_lots_are_read_in_a_constant_number_of_queries(how_many, django_assert_num_queries):
    for _ in range(how_many):
        make.GerminationTestFactory()
    with django_assert_num_queries(5):
        rows = lot_rows(lots=lots_shown(show="kept", fern="", on=TODAY), on=TODAY)
        assert {str(row.lot.taxon) and row.result and row.result.share for row in rows} == {0.83}
    assert len(rows) == how_many == SporeLot.objects.count()


# Batches


def test_a_batch_shows_what_is_alive_of_it_by_stage():
    batch = make.BatchFactory()
    make.TrayFactory.create_batch(2, batch=batch)
    make.TrayFactory(batch=batch, control=True)
    make.TrayFactory(batch=batch, cells_of_84=True, counted=80)
    make.TrayFactory(batch=batch, cells_of_84=True, counted=61)
    make.TrayFactory(batch=batch, cells_of_84=True)
    make.TrayFactory(batch=batch, carrier=True, counted=15)
    make.TrayFactory(batch=batch, carrier=True, counted=9, ended_on=TODAY, end="dispatched")
    refold(trays=batch.trays.all(), recorded_at=NOW)
    (row,) = batch_rows(batches=[batch])
    assert row.trays == 6
    counted = [(one.stage, one.trays, one.alive, one.uncounted, one.unit) for one in row.stages]
    assert counted == [
        ("sown", 2, None, 2, "plants"),
        ("pricked_out", 3, 141, 1, "plants"),
        ("potted_up", 1, 15, 0, "pots"),
    ]
    assert [tray.is_active for tray in trays_of(batch=batch)] == [True] * 7 + [False]


def test_batches_are_shown_by_standing_route_fern_and_code():
    standing = make.TrayFactory().batch
    over = make.TrayFactory(batch=make.BatchFactory(division=True), ended_on=TODAY, end="cleared")

    def shown(**more):
        given: dict[str, Any] = {"standing": False, "fern": "", "route": ""}
        return set(batches_shown(**(given | more)))

    assert shown() == {standing, over.batch}
    assert shown(standing=True) == {standing}
    assert shown(route="division") == {over.batch}
    assert shown(fern="shield fern", route="spore") == {standing}
    assert shown(fern=over.batch.code.lower()) == {over.batch}


@pytest.mark.parametrize("how_many", [3, 30])
def test_batches_are_read_in_two_queries(how_many, django_assert_num_queries):
    for _ in range(how_many):
        make.TrayFactory()
    with django_assert_num_queries(2):
        found = list(batches_shown(standing=True, fern="", route=""))
        rows = batch_rows(batches=found)
        lots = [row.batch.spore_lot for row in rows]
        assert {lot and lot.source.kind for lot in lots} == {"stock_plant"}
        assert all(str(row.batch.taxon) for row in rows)
    assert len(rows) == how_many == Batch.objects.count()


# Ferns


@pytest.mark.parametrize("how_many", [3, 30])
def test_ferns_count_lots_and_trays_in_two_queries_more(how_many, django_assert_num_queries):
    for _ in range(how_many):
        batch = make.TrayFactory().batch
        make.TrayFactory(batch=batch, control=True)
        make.TrayFactory(batch=batch, ended_on=TODAY, end="cleared")
        make.SporeLotFactory(source=batch.spore_lot.source, ended_on=TODAY)
    with django_assert_num_queries(3):
        rows = fern_rows(taxa=list(ferns_shown(fern="shield")))
    assert len(rows) == how_many
    assert {(row.lots, row.trays) for row in rows} == {(1, 1)}


# Orders


def dispatched(order, quantity, **more):
    tray = make.TrayFactory(carrier=True, counted=500)
    return make.PlantMovementFactory(
        tray=tray, kind="dispatch", quantity=quantity, order=order, **more
    )


def test_orders_are_told_apart_by_what_is_still_to_go():
    untouched, partly, whole = make.OrderFactory.create_batch(3, quantity=10)
    closed = make.OrderFactory(closed_on=TODAY)
    dispatched(partly, 9)
    dispatched(whole, 6)
    dispatched(whole, 5)
    assert set(orders_shown(show="to_go")) == {untouched, partly}
    assert set(orders_shown(show="gone")) == {whole}
    assert set(orders_shown(show="all")) == {untouched, partly, whole, closed}


def test_a_dispatch_struck_out_does_not_count_as_gone():
    order = make.OrderFactory(quantity=10)
    wrong = dispatched(order, 10)
    make.PlantMovementFactory(
        tray=wrong.tray, kind="dispatch", quantity=10, order=order, strikes_out=wrong
    )
    assert set(orders_shown(show="to_go")) == {order}
    assert close_gone(today=TODAY) == 0


def test_all_that_are_gone_are_closed_at_once():
    whole, partly = make.OrderFactory.create_batch(2, quantity=10)
    dispatched(whole, 10)
    dispatched(partly, 3)
    assert close_gone(today=TODAY) == 1
    assert set(Order.objects.open()) == {partly}
