"""Does a fault of the program at one item leave all the others, and the item itself, whole?"""

from __future__ import annotations

import logging
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import OperationalError

from batches.models import ToSettle, TrayCheck
from batches.services import standing, syncing
from batches.services.syncing import Sender, take_items
from tests.factories import TrayFactory
from tests.factories.days import NOW

pytestmark = pytest.mark.django_db


def new_tray():
    tray = TrayFactory(counted=60)
    standing.refold(trays=[tray], recorded_at=NOW)
    return tray


def item(kind="check", **more):
    at = (NOW - timedelta(hours=1)).isoformat()
    return {"id": str(uuid4()), "kind": kind, "by": "Wilf", "occurred_at": at} | more


def statuses(*items):
    body = {"sent_at": NOW.isoformat(), "items": list(items)}
    return [one.status for one in take_items(body=body, sender=Sender(), now=NOW)]


def fail(*_given, **_more):
    raise RuntimeError("a deed that nobody foresaw")


@pytest.fixture
def broken_isolating(monkeypatch):
    """A deed that writes half of what it should and then fails."""

    def half(item, sender, now):
        ToSettle.objects.create(
            id=uuid4(), item={}, reason="half", by="", at=now, recorded_at=now, tray=None
        )
        fail()

    monkeypatch.setitem(syncing._DEEDS, "isolate", half)


def test_a_deed_that_fails_is_its_own_answer_and_the_others_are_stored(
    broken_isolating, caplog
) -> None:
    first, second, third = new_tray(), new_tray(), new_tray()
    bad = item("isolate", tray=second.code, isolated=True)
    parcel = [item(tray=first.code, count=50), bad, item(tray=third.code, count=40)]
    with caplog.at_level(logging.ERROR):
        assert statuses(*parcel) == ["created", "fault", "created"]
    assert set(TrayCheck.objects.values_list("count", flat=True)) == {50, 40}
    assert not ToSettle.objects.exists(), "nothing of the deed by half"
    (said,) = [one for one in caplog.records if one.exc_info]
    assert bad["id"] in said.getMessage()
    assert "nobody foresaw" in caplog.text


def test_what_met_a_fault_is_stored_when_it_is_sent_again_after_the_mending(monkeypatch) -> None:
    bad = item("isolate", tray=new_tray().code, isolated=True)
    with monkeypatch.context() as broken:
        broken.setitem(syncing._DEEDS, "isolate", fail)
        assert statuses(bad) == ["fault"]
    assert statuses(bad) == ["created"]
    assert statuses(bad) == ["duplicate"]


def test_plain_looks_that_fail_together_go_one_by_one(monkeypatch) -> None:
    monkeypatch.setattr(syncing, "record_plain_looks", fail)
    assert statuses(item(tray=new_tray().code), item(tray=new_tray().code)) == ["created"] * 2


def test_keeping_what_contradicts_may_fail_as_well(monkeypatch) -> None:
    monkeypatch.setattr(ToSettle.objects, "create", fail)
    assert statuses(item(tray="T-99-9"), item(tray=new_tray().code)) == ["fault", "created"]


def test_what_waits_and_fails_when_it_is_tried_again_fails_no_message(monkeypatch) -> None:
    """A strike-out waits for its look; striking out meets a fault when that arrives."""
    look = item(tray=new_tray().code, count=50)
    assert statuses(item("strike_out", strikes_out=look["id"])) == ["review"]
    monkeypatch.setattr("batches.services.sync_strikes.strike_out", fail)
    assert statuses(look) == ["created"]
    assert ToSettle.objects.open().count() == 1


def test_a_database_that_is_away_is_no_fault_of_one_item(monkeypatch) -> None:
    def away(*_given):
        raise OperationalError("database is locked")

    monkeypatch.setitem(syncing._DEEDS, "isolate", away)
    with pytest.raises(OperationalError):
        statuses(item("isolate", tray=new_tray().code), item(tray=new_tray().code, count=50))
    assert not TrayCheck.objects.exists()
