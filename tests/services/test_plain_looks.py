"""Are plain looks stored together just as they are one by one, and at the cost of few?"""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from batches.models import ToSettle, Tray, TrayCheck
from batches.services.ending import discard
from batches.services.standing import refold
from batches.services.syncing import Sender, take_items
from tests.factories import DeviceFactory, TrayFactory
from tests.factories.days import NOW

pytestmark = pytest.mark.django_db


def look(code: str, ago: float = 1, **more):
    at = (NOW - timedelta(hours=ago)).isoformat()
    return {
        "id": str(uuid4()), "kind": "check", "by": "Wilf Asher", "tray": code, "occurred_at": at,
    } | more  # fmt: skip


def send(items, device=None):
    body = {"sent_at": NOW.isoformat(), "items": items}
    return take_items(body=body, sender=Sender(device=device), now=NOW)


def new_tray() -> Tray:
    tray: Tray = TrayFactory(counted=60)
    refold(trays=[tray], recorded_at=NOW)
    return tray


def message_of_all_kinds(trays: list[Tray]) -> list[object]:
    """Items of which some can be stored together and some cannot, for each reason."""
    codes = [tray.code for tray in trays]
    again = look(codes[2])
    return [
        look(codes[0]),
        look(codes[1], signs=["mould", "dry"], note="wiped the lid", opened=True, device_seq=7),
        again, again,  # an id twice
        look(codes[3]), look(codes[3], ago=2),  # a tray twice
        look(codes[4], stage_seen="gametophyte"),
        look(codes[5], count=50), look(codes[6], count=0),
        look(codes[7], losses=[{"quantity": 3, "cause": "rot"}]),
        look(codes[8], glance=True), look(codes[9], glance=True, signs=["mould"]),
        look(codes[10], signs=["no such trouble"]), look(codes[11], signs="mould"),
        look(codes[12], ago=-3), look(codes[13], ago=24 * 4000),  # to come; before it was started
        look(codes[14].lower()), look("26W99-001-X"),
        look(codes[15]),  # thrown out before
        look(codes[16], signs=["rogue_fern"], by=""),
        {"id": "no id", "kind": "check"}, "no item",
        {"id": str(uuid4()), "kind": "move", "tray": codes[17], "bench": "NONE",
         "occurred_at": NOW.isoformat()},
    ]  # fmt: skip


def everything() -> list[object]:
    columns = [
        field.attname for field in Tray._meta.concrete_fields if field.attname not in {"revision"}
    ]
    looks = TrayCheck.objects.order_by("id").values_list(
        "id", "tray__code", "seen_at", "seen_at_device", "recorded_at", "by", "signs", "note",
        "opened", "glance", "stage_seen", "count", "device", "device_ref", "device_seq", "source",
    )  # fmt: skip
    waits = ToSettle.objects.order_by("id").values_list("id", "reason", "tray__code", "by")
    return [*Tray.objects.order_by("pk").values_list(*columns), *looks, *waits]


@pytest.fixture
def trays() -> list[Tray]:
    made = [new_tray() for _ in range(18)]
    gone = (NOW - timedelta(days=2)).date()
    discard(tray=made[15], on=gone, cause="rot", by="Greta Lunn", now=NOW, second_look=True)
    return made


def test_together_and_one_by_one_come_to_the_same(trays, monkeypatch):
    from django.db import transaction

    device = DeviceFactory()
    message = message_of_all_kinds(trays)
    with transaction.atomic():
        answers = send(message, device)
        stored = everything()
        transaction.set_rollback(True)
    monkeypatch.setattr("batches.services.syncing.record_plain_looks", lambda **_: {})
    with transaction.atomic():
        assert send(message, device) == answers
        assert everything() == stored
        transaction.set_rollback(True)
    statuses = {answer.status for answer in answers}
    assert statuses == {"created", "duplicate", "review", "rejected"}


def test_sent_twice_they_are_stored_once(trays):
    message = [look(tray.code) for tray in trays[:10]]
    assert {answer.status for answer in send(message)} == {"created"}
    before = everything()
    assert {answer.status for answer in send(message)} == {"duplicate"}
    assert everything() == before


def test_fifty_cost_few_queries(django_assert_max_num_queries):
    def message(how_many: int):
        return [look(new_tray().code) for _ in range(how_many)]

    few, many = message(3), message(50)
    with django_assert_max_num_queries(60) as asked:
        send(few)
    with django_assert_max_num_queries(len(asked) + 2):  # rows go in by lots
        assert len(send(many)) == 50
    assert TrayCheck.objects.count() == 53
