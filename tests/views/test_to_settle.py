"""Is what contradicts settled by one tap, or put right and taken, and does it stay readable?"""

from __future__ import annotations

import json
from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import PlantMovement, StageTransition, ToSettle, Tray, TrayCheck
from batches.services import standing
from batches.services.standing import differing
from batches.services.stock_book import book_of
from tests.factories import NOW, BenchFactory, LaidOutTrayFactory, TrayFactory
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def tray():
    one = TrayFactory(counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


def waits(tablet, tray, *, ago=timedelta(hours=1), kind="check", sent_at=NOW, **more) -> str:
    """Send an item that has to wait and return its id."""
    code = tray if isinstance(tray, str) else tray.code
    one = {"id": str(uuid4()), "device_seq": 1, "kind": kind, "tray": code, "by": "Wilf",
           "occurred_at": (NOW - ago).isoformat()} | more  # fmt: skip
    body = {"sent_at": sent_at.isoformat(), "items": [one]}
    answer = tablet.post(reverse("batches:sync"), json.dumps(body), content_type="application/json")
    assert [result["status"] for result in answer.json()["results"]] == ["review"]
    return str(ToSettle.objects.open().get(item__id=one["id"]).pk)


def tap(manager, item_id, how):
    address = reverse("batches:to-settle")
    return manager.post(address, {"item": item_id, "how": how}, follow=True).content.decode()


def stock(tray):
    tray.refresh_from_db()
    assert differing()[1] == ()
    assert tray.alive is None or book_of(tray).alive == tray.alive
    return tray.alive


def test_a_count_above_the_book_is_taken_as_a_recount(manager, tablet, tray):
    item_id = waits(tablet, tray, count=95, signs=["mould"])
    assert stock(tray) == 80
    assert "Settled." in tap(manager, item_id, "taken")
    assert stock(tray) == 95
    assert PlantMovement.objects.get(kind="recount").quantity == 15
    assert set(TrayCheck.objects.filter(count=95).values_list("by", flat=True)) == {"Wilf"}
    done = ToSettle.objects.get(pk=item_id)
    assert (done.settled_how, done.settled_by) == ("taken as it is", "Greta Lunn")
    assert "95 alive" in page(manager, "to-settle")
    assert "settled already" in tap(manager, item_id, "taken")


def test_a_stage_that_went_back_is_taken_as_a_correction(manager, tablet, tray):
    forward = {"id": str(uuid4()), "kind": "check", "tray": tray.code, "by": "Wilf",
               "occurred_at": (NOW - timedelta(days=2)).isoformat(),
               "stage_seen": "first_frond"}  # fmt: skip
    body = {"sent_at": NOW.isoformat(), "items": [forward]}
    tablet.post(reverse("batches:sync"), json.dumps(body), content_type="application/json")
    item_id = waits(tablet, tray, stage_seen="gametophyte")
    tap(manager, item_id, "taken")
    stock(tray)
    assert tray.stage == "gametophyte"
    assert StageTransition.objects.standing().filter(to_stage="gametophyte").exists()


def test_more_lost_than_the_book_held_leaves_nothing(manager, tablet, tray):
    item_id = waits(tablet, tray, losses=[{"quantity": 90, "cause": "rot"}])
    tap(manager, item_id, "taken")
    assert stock(tray) == 0
    assert PlantMovement.objects.standing().get(kind="loss").quantity == 90


def test_more_pricked_out_than_the_book_held_is_counted_up_first(manager, tablet, tray):
    code = LaidOutTrayFactory(batch=tray.batch).code
    item_id = waits(tablet, tray, kind="prick_out", quantity=84,
                    trays=[{"code": code, "quantity": 84}])  # fmt: skip
    assert "84 left and were pricked out: 84 into" in page(manager, "to-settle")
    tap(manager, item_id, "taken")
    assert stock(tray) == 0
    assert Tray.objects.get(code=code).alive == 84


def test_a_look_at_an_unknown_tray_is_put_right_and_taken(manager, tablet, tray):
    item_id = waits(tablet, "26W14-999-01-X", stage_seen="gametophyte", signs=["dry"])
    assert "Settled" not in tap(manager, item_id, "taken")
    address = reverse("batches:settle-correct", args=[item_id])
    text = manager.get(address).content.decode()
    assert "26W14-999-01-X" in text
    right = {"tray": tray.code, "at": "2026-06-10T08:00", "stage_seen": "gametophyte",
             "signs": "dry"}  # fmt: skip
    refused = manager.post(address, right | {"tray": "NOWHERE"})
    assert refused.status_code == 422
    assert manager.post(address, right).status_code == 302
    stock(tray)
    assert (tray.stage, tray.last_signs) == ("gametophyte", "dry")
    assert ToSettle.objects.get(pk=item_id).settled_how == "put right and taken"


def test_a_look_logged_at_the_wrong_tray_is_taken_at_the_right_one(manager, tablet, tray):
    right = TrayFactory(counted=300, batch=tray.batch)
    standing.refold(trays=[right], recorded_at=NOW)
    item_id = waits(tablet, tray, count=250)
    assert TrayCheck.objects.standing().filter(tray=tray).count() == 1
    manager.post(
        reverse("batches:settle-correct", args=[item_id]),
        {"tray": right.code, "at": "2026-06-10T08:00", "count": "250"},
    )
    assert (stock(tray), stock(right)) == (80, 250)
    assert not TrayCheck.objects.standing().filter(tray=tray).exists()


def test_a_move_to_an_unknown_bench_and_a_picking_without_room_are_put_right(manager, tablet, tray):
    bench = BenchFactory(rows=2, columns=2)
    moved = waits(tablet, tray, kind="move", bench="Z9", row=1, column=1)
    manager.post(
        reverse("batches:settle-correct", args=[moved]),
        {"tray": tray.code, "at": "2026-06-10T08:00", "bench": bench.code, "row": "1"},
    )
    tray.refresh_from_db()
    assert tray.bench == bench
    picked = waits(tablet, tray, kind="prick_out", quantity=500, trays=[{"quantity": 500}])
    address = reverse("batches:settle-correct", args=[picked])
    bad = {"tray": tray.code, "at": "2026-06-10T08:00", "quantity": "50", "trays": "fifty"}
    assert manager.post(address, bad).status_code == 422
    assert manager.post(address, bad | {"trays": "30\n20"}).status_code == 302
    assert stock(tray) == 30
    assert set(Tray.objects.exclude(pk=tray.pk).values_list("alive", flat=True)) == {20, 30}


def test_both_clocks_are_shown_when_they_were_far_apart_and_a_tapped_name_is_called_that(
    manager, tablet, tray
):
    off = timedelta(hours=3)
    waits(tablet, tray, count=900, ago=timedelta(hours=1) - off, sent_at=NOW + off,
          by_verified=False)  # fmt: skip
    text = page(manager, "to-settle")
    assert "the tablet's clock said" in text
    assert "not proved" in text
    waits(tablet, tray, count=901)
    assert page(manager, "to-settle").count("clock said") == 1


def test_what_is_left_out_changes_nothing_and_stays_readable(manager, tablet, tray):
    item_id = waits(tablet, tray, count=900, note="counted twice")
    assert "stays readable" in tap(manager, item_id, "left_out")
    assert stock(tray) == 80
    text = page(manager, "to-settle")
    assert "Nothing waits" in text
    assert "counted twice" in text


@pytest.mark.parametrize("how", ["taken", "", "entered"])
def test_a_strike_out_of_nothing_is_only_left_out(manager, tablet, tray, how):
    item_id = waits(tablet, tray, kind="strike_out", strikes_out=str(uuid4()))
    assert "Take it as it is" not in page(manager, "to-settle")
    tap(manager, item_id, how)
    assert ToSettle.objects.open().filter(pk=item_id).exists()
