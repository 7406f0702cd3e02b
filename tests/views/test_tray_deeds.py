"""Are trays moved, thrown out and dispatched from their page, and refused in words?"""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import Place, PlantMovement
from batches.services import standing
from tests.factories import NOW, TODAY, BenchFactory, OrderFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def ready(**more):
    one = TrayFactory(**more)
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def deed(client, tray, what, **fields):
    body = {"on": TODAY.isoformat(), "revision": tray.revision, "record_id": str(uuid4())} | fields
    return client.post(reverse("batches:tray-deed", args=[tray.code, what]), body, follow=True)


def test_a_move_by_the_form_works_without_script(hand):
    one, bench = ready(), BenchFactory(rows=2, columns=2)
    deed(hand, one, "move", bench=bench.code, row=2, column=1)
    one.refresh_from_db()
    assert (one.bench, one.row, one.column) == (bench, 2, 1)


def test_a_young_tray_asks_for_a_second_look_before_it_is_thrown_out(hand):
    one = ready(counted=50)
    refused = deed(hand, one, "discard", cause="moss_liverwort")
    assert refused.status_code == 422
    assert "second" in refused.content.decode()
    one.refresh_from_db()
    assert one.ended_on is None
    deed(hand, one, "discard", cause="moss_liverwort", second_look="on")
    one.refresh_from_db()
    assert (one.end, one.end_cause, one.alive) == ("discarded", "moss_liverwort", 0)


def test_an_ending_is_taken_back(hand):
    one = ready(counted=50)
    deed(hand, one, "discard", cause="no_germination")
    hand.post(reverse("batches:tray-small-deed", args=[one.code, "reopen"]))
    one.refresh_from_db()
    assert (one.ended_on, one.alive) == (None, 50)


def test_pots_are_dispatched_to_somebody(hand):
    one = ready(carrier=True, counted=40)
    refused = deed(hand, one, "dispatch", quantity=10)
    assert "To whom" in refused.content.decode()
    order = OrderFactory(taxon=one.batch.taxon, customer="Fenwick Cottage Plants")
    deed(hand, one, "dispatch", quantity=10, order=order.code)
    one.refresh_from_db()
    assert one.alive == 30
    too_many = deed(hand, one, "dispatch", quantity=31, recipient="Marsh Lane Stall")
    assert too_many.status_code == 422
    one.refresh_from_db()
    assert one.alive == 30


@pytest.mark.parametrize("what", ["move", "discard", "dispatch"])
def test_a_form_sent_twice_is_done_once_and_answered_as_the_first_time(hand, what):
    one, bench = ready(carrier=True, counted=40), BenchFactory(rows=2, columns=2)
    fields = {
        "move": {"bench": bench.code, "row": 1, "column": 2},
        "discard": {"cause": "slugs"},
        "dispatch": {"quantity": 10, "recipient": "Marsh Lane Stall"},
    }[what] | {"record_id": str(uuid4())}
    first = deed(hand, one, what, **fields)
    stored = PlantMovement.objects.count(), Place.objects.count()
    again = deed(hand, one, what, **fields)
    assert (first.status_code, again.status_code) == (200, 200)
    (said,), (said_again,) = first.context["messages"], again.context["messages"]
    assert said_again.message.startswith(said.message.rstrip("."))
    assert (PlantMovement.objects.count(), Place.objects.count()) == stored


@pytest.mark.parametrize(
    ("what", "column", "value"),
    [("isolate", "isolated", True), ("vented", "cover", "vented"), ("off", "cover", "off")],
)
def test_small_deeds_are_one_press(hand, what, column, value):
    one = ready()
    hand.post(reverse("batches:tray-small-deed", args=[one.code, what]))
    one.refresh_from_db()
    assert getattr(one, column) == value


def test_a_tray_that_holds_plants_is_not_cleared(hand):
    one = ready(counted=5)
    page = hand.post(reverse("batches:tray-small-deed", args=[one.code, "clear"]), follow=True)
    assert "still in tray" in page.content.decode()


def test_an_unknown_deed_is_not_found(hand):
    one = ready()
    assert hand.get(reverse("batches:tray-deed", args=[one.code, "sing"])).status_code == 404
    assert hand.post(reverse("batches:tray-small-deed", args=[one.code, "sing"])).status_code == 404
