"""Do pots leave once, no more than there are, and for the order they were promised to?"""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from batches.core.errors import (
    AlreadyTaken,
    LedgerDoesNotBalance,
    NotPossibleNow,
    NotUnderstood,
    OutOfTime,
)
from batches.models import PlantMovement
from batches.services.dispatching import dispatch
from batches.services.orders import close_order, open_again, progress_of, record_order
from batches.services.standing import refold
from batches.services.strikes import strike_out
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


@pytest.fixture
def carrier():
    tray = make.TrayFactory(carrier=True, counted=40)
    refold(trays=[tray], recorded_at=make.NOW)
    tray.refresh_from_db()
    return tray


def send(tray, quantity, **more):
    given: dict[str, Any] = {"on": TODAY, "by": "Oonagh Pell", "now": make.NOW} | more
    return dispatch(tray=tray, quantity=quantity, **given)


def test_pots_leave_for_an_order_and_the_last_ones_end_the_tray(carrier):
    order = make.OrderFactory(taxon=carrier.batch.taxon, quantity=50)

    first = send(carrier, 15, order=order)
    last = send(carrier, 25, order=order, recipient="Kiln Yard", now=make.at(TODAY, 15))

    assert first.movement.recipient == order.customer
    assert (first.tray.alive, first.tray.end) == (25, "")
    assert (last.tray.alive, last.tray.end, last.tray.ended_on) == (0, "dispatched", TODAY)
    assert (last.order.dispatched, last.order.still_open, last.order.is_whole) == (40, 10, False)
    assert "Order" in last.message
    with pytest.raises(NotPossibleNow, match="the last of it went to Kiln Yard"):
        send(carrier, 1)


def test_an_emptied_tray_may_stay(carrier):
    assert send(carrier, 40, end_when_empty=False).tray.is_active


def test_a_struck_dispatch_brings_the_tray_and_the_order_back(carrier):
    order = make.OrderFactory(taxon=carrier.batch.taxon)
    row = send(carrier, 40, order=order).movement

    result = strike_out(row=row, by="Oonagh Pell", now=make.at(TODAY, 15))

    assert (result.tray.alive, result.tray.is_active) == (40, True)
    assert progress_of(orders=[order])[0].dispatched == 0


def test_the_same_dispatch_sent_twice_is_one(carrier):
    record_id = uuid.uuid4()
    first = send(carrier, 5, record_id=record_id)
    again = send(carrier, 5, record_id=record_id)

    assert (first.created, again.created, again.message) == (True, False, first.message)
    assert PlantMovement.objects.filter(kind="dispatch").count() == 1
    with pytest.raises(AlreadyTaken):
        send(carrier, 6, record_id=record_id)


def test_what_is_not_there_or_not_ready_does_not_leave(carrier):
    with pytest.raises(LedgerDoesNotBalance, match="2 more would have left"):
        send(carrier, 42)
    with pytest.raises(NotUnderstood):
        send(carrier, 0)
    with pytest.raises(OutOfTime):
        send(carrier, 1, on=TODAY + timedelta(days=1))
    with pytest.raises(OutOfTime):
        send(carrier, 1, on=make.STARTED_ON - timedelta(days=1))
    with pytest.raises(NotPossibleNow, match="under its cover"):
        send(make.TrayFactory(), 1)
    with pytest.raises(NotPossibleNow, match="count it first"):
        send(make.TrayFactory(carrier=True), 1)
    with pytest.raises(NotPossibleNow, match="is for"):
        send(carrier, 1, order=make.OrderFactory())
    with pytest.raises(NotPossibleNow, match="was closed"):
        send(carrier, 1, order=make.OrderFactory(taxon=carrier.batch.taxon, closed_on=TODAY))

    assert not PlantMovement.objects.filter(kind="dispatch").exists()


def test_orders_are_written_down_closed_and_opened_again():
    fern = make.TaxonFactory()
    given: dict[str, Any] = {"taxon": fern, "wanted_on": TODAY + timedelta(days=90), "today": TODAY}
    order = record_order(quantity=200, customer=" Marl Lane Gardens ", **given)
    own = record_order(quantity=1, code="Shop-7", **given)

    assert order.code.startswith("R26-001-")
    assert (order.customer, own.code) == ("Marl Lane Gardens", "Shop-7")
    assert close_order(order=order, today=TODAY).closed_on == TODAY
    assert close_order(order=order, today=TODAY + timedelta(days=1)).closed_on == TODAY
    assert open_again(order=order).closed_on is None
    with pytest.raises(NotUnderstood):
        record_order(quantity=0, **given)
    with pytest.raises(OutOfTime, match="is over"):
        record_order(quantity=1, **(given | {"wanted_on": TODAY - timedelta(days=1)}))
    with pytest.raises(AlreadyTaken):
        record_order(quantity=1, code="Shop-7", **given)


def test_progress_costs_one_query_for_any_number_of_orders(django_assert_num_queries):
    orders = make.OrderFactory.create_batch(12)

    with django_assert_num_queries(1):
        assert len(progress_of(orders=orders)) == 12
