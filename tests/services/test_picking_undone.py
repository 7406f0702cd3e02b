"""Is all of a picking gone when a tablet takes it back, and may its labels be filled again?"""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID, uuid4

import pytest

from batches.models import ToSettle, Tray
from batches.services.picking_undone import rows_of_picking
from batches.services.standing import refold
from batches.services.syncing import Sender, take_items
from tests.factories import LaidOutTrayFactory, TrayFactory
from tests.factories.days import NOW

pytestmark = pytest.mark.django_db


def item(kind, ago=1.0, **more):
    at = (NOW - timedelta(hours=ago)).isoformat()
    return {"id": str(uuid4()), "kind": kind, "by": "Wilf", "occurred_at": at} | more


def send(*items):
    body = {"sent_at": NOW.isoformat(), "items": list(items)}
    return take_items(body=body, sender=Sender(), now=NOW)


@pytest.fixture
def mat():
    tray = TrayFactory(counted=80)
    refold(trays=[tray], recorded_at=NOW)
    return tray


@pytest.fixture
def labels(mat):
    return [LaidOutTrayFactory(batch=mat.batch).code for _ in range(3)]


def picked(mat, labels, quantity=30, **more):
    share = quantity // len(labels)
    into = [{"code": code, "quantity": share} for code in labels]
    return item("prick_out", 2, tray=mat.code, quantity=quantity, trays=into) | more


def test_three_trays_filled_at_once_are_taken_back_at_once(mat, labels) -> None:
    picking = picked(mat, labels, come_back_on="2026-07-01")
    beside = picked(mat, labels[:1], quantity=7)
    send(picking, beside)
    filled = [row.to_tray for row in rows_of_picking(UUID(picking["id"]))]
    assert [tray and tray.code for tray in filled] == labels
    back = item("strike_out", tray=mat.code, strikes_out=picking["id"])
    (answer,) = send(back)
    assert answer.status == "created"
    assert answer.message.startswith(f"Taken back: what left {mat.code} on ")
    mat.refresh_from_db()
    # 80 without the 7 that the other picking of the same message took
    assert mat.alive == 73
    ends = dict(Tray.objects.filter(code__in=labels).values_list("code", "end"))
    assert ends == {labels[0]: "", labels[1]: "cleared", labels[2]: "cleared"}
    assert [one.status for one in send(back)] == ["duplicate"]
    other = item("strike_out", tray=mat.code, strikes_out=picking["id"])
    assert [one.status for one in send(other)] == ["merged"]
    assert [one.status for one in send(other, picking)] == ["duplicate", "duplicate"]
    mat.refresh_from_db()
    assert mat.alive == 73
    assert dict(Tray.objects.filter(code__in=labels).values_list("code", "end")) == ends


def test_a_label_is_filled_again_after_its_picking_was_taken_back(mat, labels) -> None:
    wrong = picked(mat, labels[:1], come_back_on="2026-07-01")
    send(wrong, item("strike_out", tray=mat.code, strikes_out=wrong["id"]))
    mat.refresh_from_db()
    assert (mat.alive, mat.come_back_on) == (80, None)
    right = picked(mat, labels[:1], quantity=24, come_back_on="2026-07-08")
    assert [one.status for one in send(right)] == ["created"]
    mat.refresh_from_db()
    child = Tray.objects.get(code=labels[0])
    assert (child.alive, child.ended_on, child.stage) == (24, None, "pricked_out")
    assert (mat.alive, mat.come_back_on) == (56, date(2026, 7, 8))
    assert [one.status for one in send(wrong)] == ["duplicate"]
    child.refresh_from_db()
    assert child.alive == 24


def test_a_picking_of_which_plants_went_further_waits_for_the_manager(mat, labels) -> None:
    picking = picked(mat, labels[:1], quantity=30)
    further = item("prick_out", 1.5, tray=labels[0], quantity=10,
                   trays=[{"code": labels[1], "quantity": 10}])  # fmt: skip
    send(picking, further)
    (answer,) = send(item("strike_out", tray=mat.code, strikes_out=picking["id"]))
    assert answer.status == "review"
    mat.refresh_from_db()
    assert mat.alive == 50
    assert ToSettle.objects.open().count() == 1


def test_nothing_is_known_of_a_picking_that_has_not_arrived(mat, labels) -> None:
    assert rows_of_picking(uuid4()) == []
    picking = picked(mat, labels)
    back = item("strike_out", tray=mat.code, strikes_out=picking["id"])
    assert [one.status for one in send(back)] == ["review"]
    assert [one.status for one in send(picking)] == ["created"]
    mat.refresh_from_db()
    assert mat.alive == 80
    assert not ToSettle.objects.open().exists()
