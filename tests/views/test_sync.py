"""Does every item get its own answer, and is nothing of the bench refused or stored twice?"""

from __future__ import annotations

import json
import random
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from batches.models import Device, Person, PlantMovement, ToSettle, Tray, TrayCheck
from batches.services import bench_people, devices, standing
from batches.views import clock
from tests.factories import NOW, TODAY, BenchFactory, LaidOutTrayFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def tray():
    one = TrayFactory(counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


def item(tray, *, ago=timedelta(hours=1), kind="check", **more):
    code = tray if isinstance(tray, str) else tray.code
    return {"id": str(uuid4()), "device_seq": 1, "kind": kind, "tray": code, "by": "Wilf",
            "occurred_at": (NOW - ago).isoformat()} | more  # fmt: skip


def send(client, *items, sent_at=NOW):
    body = {"sent_at": sent_at.isoformat(), "generation": 1, "items": list(items)}
    return client.post(reverse("batches:sync"), json.dumps(body), content_type="application/json")


def statuses(client, *items, **more):
    return [one["status"] for one in send(client, *items, **more).json()["results"]]


def test_hello_sets_the_cookie_and_tells_time_and_generation(tablet):
    answer = tablet.get(reverse("batches:sync-hello"))
    assert set(answer.json()) == {"server_time", "generation"}
    assert any("csrf" in name for name in answer.cookies)


def test_hello_hears_how_much_a_tablet_still_holds(tablet, hand):
    answer = tablet.get(reverse("batches:sync-hello"), {"waiting": "7", "photos": "2"})
    assert answer.json()["tablet"] == "Mist house"
    device = Device.objects.get()
    assert (device.waiting, device.photos_waiting, device.last_seen_at) == (7, 2, NOW)
    tablet.get(reverse("batches:sync-hello"), {"waiting": "-3", "photos": "many"})
    device.refresh_from_db()
    assert (device.waiting, device.photos_waiting) == (0, 0)
    assert hand.get(reverse("batches:sync-hello"), {"waiting": "9"}).json()["tablet"] is None


@pytest.mark.parametrize("name", ["sync", "sync-hello", "sync-person", "bench-day"])
def test_a_revoked_tablet_is_told_so_and_that_it_keeps_what_it_holds(tablet, name):
    devices.revoke(device=Device.objects.get(), now=NOW)
    way = tablet.get if name in {"sync-hello", "bench-day"} else tablet.post
    answer = way(reverse(f"batches:{name}"))
    assert answer.status_code == 401
    assert answer.json()["revoked"] is True
    assert "is kept" in answer.json()["error"]
    assert "revoked" not in Client().get(reverse(f"batches:{name}")).json()


def test_a_stranger_is_told_in_json(stranger):
    answer = send(stranger)
    assert answer.status_code == 401
    assert "error" in answer.json()


def test_a_look_is_stored_once_and_answers_as_the_first_time(tablet, tray):
    losses = [{"quantity": 6, "cause": "mould"}]
    look = item(
        tray, stage_seen="gametophyte", count=70, losses=losses, signs=["mould"], note="film"
    )
    assert statuses(tablet, look) == ["created"]
    assert statuses(tablet, look) == ["duplicate"]
    stored = TrayCheck.objects.get()
    assert (str(stored.pk), stored.by, stored.device) == (look["id"], "Wilf", "Mist house")
    tray.refresh_from_db()
    assert (tray.stage, tray.alive) == ("gametophyte", 70)
    assert statuses(tablet, look | {"note": "other"}) == ["rejected"]


def test_answers_come_in_order_one_for_each(tablet, tray):
    items = [item(tray), item(tray, kind="sing"), item("NOTHING"), {"id": "x"}]
    answer = send(tablet, *items).json()
    assert [one["status"] for one in answer["results"]] == [
        "created", "rejected", "review", "rejected",
    ]  # fmt: skip
    assert answer["results"][0]["id"] == items[0]["id"]


def test_contradictions_wait_outside_the_stock_book_and_the_look_counts(tablet, tray):
    assert statuses(tablet, item(tray, stage_seen="first_frond")) == ["created"]
    backward = item(tray, stage_seen="gametophyte", ago=timedelta(0))
    above = item(tray, count=500)
    odd = item(tray, count="many", signs=["gremlins"])
    assert statuses(tablet, backward, above, odd) == ["review"] * 3
    assert statuses(tablet, backward, above, odd) == ["duplicate"] * 3
    tray.refresh_from_db()
    assert (tray.stage, tray.alive) == ("first_frond", 80)
    assert ToSettle.objects.open().count() == 3
    assert TrayCheck.objects.count() == 4
    assert PlantMovement.objects.filter(kind="recount").count() == 0


def test_a_look_at_an_ended_tray_or_from_before_its_start_waits(tablet, tray):
    type(tray).objects.filter(pk=tray.pk).update(ended_on=TODAY, end="discarded")
    early = item(tray, ago=timedelta(days=400))
    assert statuses(tablet, item(tray), early) == ["review", "review"]
    assert TrayCheck.objects.count() == 0


def test_the_same_stage_seen_by_two_tablets_is_merged(tablet, tray):
    first = item(tray, stage_seen="gametophyte", ago=timedelta(days=2))
    second = item(tray, stage_seen="gametophyte")
    assert statuses(tablet, first, second) == ["created", "merged"]


def test_a_look_is_struck_out_and_a_tray_moved(tablet, tray):
    look = item(tray, stage_seen="gametophyte")
    bench = BenchFactory(rows=2, columns=2)
    strike = {"id": str(uuid4()), "kind": "strike_out", "strikes_out": look["id"], "by": "Wilf",
              "occurred_at": NOW.isoformat()}  # fmt: skip
    move = item(tray, kind="move", bench=bench.code, row=1, column=2, ago=timedelta(0))
    assert statuses(tablet, look, strike, move) == ["created"] * 3
    assert statuses(tablet, look, strike, move) == ["duplicate"] * 3
    tray.refresh_from_db()
    assert (tray.stage, tray.bench, tray.column) == ("sown", bench, 2)
    assert str(TrayCheck.objects.get(strikes_out__isnull=False).pk) == strike["id"]


def test_a_clock_two_days_off_is_put_right_and_both_times_are_told(tablet, tray):
    wrong = timedelta(days=2)
    look = item(tray) | {"occurred_at": (NOW + wrong - timedelta(hours=1)).isoformat()}
    answer = send(tablet, look, sent_at=NOW + wrong).json()["results"][0]
    assert answer["status"] == "created"
    assert "clock said" in answer["message"]
    stored = TrayCheck.objects.get()
    assert stored.seen_at == NOW - timedelta(hours=1)
    assert stored.seen_at_device == NOW + wrong - timedelta(hours=1)


@pytest.mark.parametrize(
    "body",
    ["", "x", "[]", "{}", '{"items": 3}', '{"items": [], "sent_at": "soon"}',
     '{"items": [NaN], "sent_at": "2026-06-10T09:00:00Z"}'],
)  # fmt: skip
def test_a_body_that_is_not_of_the_form_is_refused_with_the_reason(tablet, body):
    answer = tablet.post(reverse("batches:sync"), body, content_type="application/json")
    assert answer.status_code == 400
    assert "Nothing was stored" in answer.json()["error"]


def test_a_body_too_large_to_take_is_refused_as_json(tablet):
    body = "x" * (5 * 1024 * 1024)
    answer = tablet.post(reverse("batches:sync"), body, content_type="application/json")
    assert answer.status_code == 413
    assert "Nothing was stored" in answer.json()["error"]


def test_too_many_items_are_refused_whole(tablet, tray):
    assert send(tablet, *[item(tray) for _ in range(51)]).status_code == 400
    assert TrayCheck.objects.count() == 0


@pytest.mark.parametrize(
    ("odd", "answered"),
    [
        ({"kind": "weigh"}, "rejected"),  # of a later program
        ({"id": "7"}, "rejected"),
        ({"occurred_at": "soon"}, "rejected"),
        ({"count": -1}, "review"),
        ({"count": "many"}, "review"),
        ({"count": True}, "review"),
        ({"losses": {"mould": 3}}, "review"),
        ({"losses": [{"quantity": -1, "cause": "mould"}]}, "review"),
        ({"stage_seen": "moss on mars"}, "review"),
        ({"humidity": 3, "schema": 99}, "created"),  # what nobody knows here is left out
    ],
)
def test_an_odd_item_gets_its_own_answer_and_those_beside_it_are_stored(
    tablet, tray, odd, answered
):
    first, last = item(tray), item(tray)
    assert statuses(tablet, first, item(tray) | odd, last) == ["created", answered, "created"]
    # What cannot be waits for the manager; that somebody looked holds.
    assert TrayCheck.objects.count() == (2 if answered == "rejected" else 3)
    assert not TrayCheck.objects.exclude(count=None, stage_seen="").exists()
    assert ToSettle.objects.count() == (answered == "review")
    assert not PlantMovement.objects.exclude(kind="in").exists()


def test_the_id_of_another_tablets_look_does_not_stand_for_another_look(tablet, hand, tray):
    first = item(tray, note="film beaded")
    assert statuses(hand, first) == ["created"]
    (answer,) = send(tablet, first | {"note": "all dead", "count": 0}).json()["results"]
    assert answer["status"] != "created"
    assert TrayCheck.objects.get().note == "film beaded"


def test_hostile_values_never_break_the_server(tablet, tray):
    chance = random.Random(4)
    values: list[Any] = [
        None,
        "",
        "\x00",
        "\ud800",
        -1,
        1e99,
        2**70,
        True,
        [],
        {},
        ["x"],
        "<script>",
        "9" * 5_000,
    ]
    names = ["tray", "by", "occurred_at", "stage_seen", "count", "signs", "about", "opened",
             "glance", "note", "losses", "device_seq", "id", "kind"]  # fmt: skip
    for _ in range(150):
        odd = item(tray) | {name: chance.choice(values) for name in chance.sample(names, 3)}
        answer = send(tablet, odd)
        assert answer.status_code == 200
        assert answer.json()["results"][0]["status"] in {
            "created", "duplicate", "merged", "review", "rejected",
        }  # fmt: skip


def test_any_order_of_arrival_gives_the_same_state(tablet, manager):
    chance = random.Random(9)
    states = set()
    for _ in range(4):
        one = TrayFactory(counted=80)
        standing.refold(trays=[one], recorded_at=NOW)
        looks = [
            item(one, ago=timedelta(days=12), signs=["mould"]),
            item(one, ago=timedelta(days=9), count=70),
            item(one, ago=timedelta(days=6), stage_seen="gametophyte"),
            item(one, ago=timedelta(days=2), losses=[{"quantity": 5, "cause": "dry"}]),
        ]
        chance.shuffle(looks)
        for look in [*looks, *looks]:
            send(tablet, look)
        one.refresh_from_db()
        states.add((one.stage, one.alive, one.last_signs, one.due_on, one.stage_not_before))
    assert len(states) == 1


def test_the_manager_settles_what_waits_and_it_stays_readable(tablet, manager, tray):
    send(tablet, item("NOTHING", note="pale film"))
    page = manager.get(reverse("batches:to-settle")).content.decode()
    assert "pale film" in page
    waiting = ToSettle.objects.get()
    manager.post(reverse("batches:to-settle"), {"item": waiting.pk, "how": "left_out"})
    waiting.refresh_from_db()
    assert waiting.settled_by == "Greta Lunn"
    assert "Nothing waits" in manager.get(reverse("batches:to-settle")).content.decode()
    twice = {"item": waiting.pk, "how": "left_out"}
    assert (
        "already" in manager.post(reverse("batches:to-settle"), twice, follow=True).content.decode()
    )


def test_a_post_without_the_token_is_refused(tablet):
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = tablet.cookies
    answer = send(strict)
    assert answer.status_code == 403
    assert answer.json()["stale_token"] is True
    assert "Nothing was stored" in answer.json()["error"]


def test_a_stranger_is_told_so_in_json_also_without_the_token():
    answer = send(Client(enforce_csrf_checks=True))
    assert answer.status_code == 401
    assert "not an enrolled tablet" in answer.json()["error"]


# Pricking out and potting up


def picking(tray, *children, kind="prick_out", ago=timedelta(hours=1), **more):
    trays = [child if isinstance(child, dict) else {"code": child} for child in children]
    return item(tray, kind=kind, ago=ago, trays=trays) | more


def test_plants_are_pricked_out_into_laid_out_trays_once(tablet, tray):
    laid_out = LaidOutTrayFactory(batch=tray.batch)
    fresh = {"quantity": 20, "container": "cell tray 40", "cells": 40}
    deed = picking(tray, {"code": laid_out.code, "quantity": 30}, fresh, quantity=50,
                   come_back_on="2026-06-24")  # fmt: skip
    assert statuses(tablet, deed) == ["created"]
    assert statuses(tablet, deed) == ["duplicate"]
    tray.refresh_from_db()
    assert (tray.alive, str(tray.come_back_on)) == (30, "2026-06-24")
    child = Tray.objects.get(code=laid_out.code)
    other = Tray.objects.exclude(pk__in=[tray.pk, child.pk]).get()
    assert (child.alive, child.stage, child.container) == (30, "pricked_out", "cell tray 84")
    assert (other.alive, other.cells, other.container) == (20, 40, "cell tray 40")
    row = PlantMovement.objects.filter(kind="out").earliest("recorded_at")
    assert (row.by, row.at) == ("Wilf", NOW - timedelta(hours=1))


def test_patches_become_plants_and_what_left_is_shared_by_what_arrived(tablet):
    mat = TrayFactory(counted=84, unit="patches")
    standing.refold(trays=[mat], recorded_at=NOW)
    deed = picking(mat, {"quantity": 150}, {"quantity": 50}, quantity=40, arrived=200)
    assert statuses(tablet, deed) == ["created"]
    rows = PlantMovement.objects.filter(kind="out").order_by("-quantity")
    assert [(row.quantity, row.arrived) for row in rows] == [(30, 150), (10, 50)]


def test_plants_are_potted_up_and_a_standing_carrier_is_filled_up(tablet):
    cells = TrayFactory(counted=84, cells_of_84=True)
    carrier = TrayFactory(counted=10, carrier=True, batch=cells.batch)
    standing.refold(trays=[cells, carrier], recorded_at=NOW)
    children = {"code": carrier.code, "quantity": 14}, {"quantity": 20, "pot_size": "9 cm"}
    assert statuses(tablet, picking(cells, *children, kind="pot_up", quantity=34)) == ["created"]
    carrier.refresh_from_db()
    assert carrier.alive == 24
    assert Tray.objects.get(pot_size="9 cm", alive=20).unit == "pots"


ODD = {
    "more than it holds": {"quantity": 500, "trays": [{"quantity": 500}]},
    "no trays": {"quantity": 5},
    "no numbers": {"quantity": 5, "trays": [{}]},
    "not adding up": {"quantity": 5, "arrived": 5, "trays": [{"quantity": 4}]},
    "text": {"quantity": "many", "trays": "all"},
    "unknown code": {"quantity": 5, "trays": [{"code": "NOWHERE", "quantity": 5}]},
    "unknown day": {"quantity": 5, "trays": [{"quantity": 5}], "come_back_on": "soon"},
    "below one": {"quantity": -5, "trays": [{"quantity": -5}]},
    "too many trays": {"quantity": 99, "trays": [{"quantity": 1}] * 99},
}


@pytest.mark.parametrize("name", sorted(ODD))
def test_a_picking_that_contradicts_waits_and_the_stock_book_stays(tablet, tray, name):
    deed = item(tray, kind="prick_out") | ODD[name]
    assert statuses(tablet, deed) == ["review"]
    assert statuses(tablet, deed) == ["duplicate"]
    tray.refresh_from_db()
    assert (tray.alive, Tray.objects.count()) == (80, 1)
    assert str(ToSettle.objects.open().get().pk) == deed["id"]


def test_a_look_at_a_tray_that_is_not_filled_yet_waits_for_the_picking(tablet, tray):
    laid_out = LaidOutTrayFactory(batch=tray.batch)
    look = item(laid_out.code, count=29)
    deed = picking(tray, {"code": laid_out.code, "quantity": 30}, quantity=30,
                   ago=timedelta(hours=2))  # fmt: skip
    assert statuses(tablet, look) == ["review"]
    assert statuses(tablet, deed) == ["created"]
    assert not ToSettle.objects.open().exists()
    assert Tray.objects.get(code=laid_out.code).alive == 29
    assert statuses(tablet, look) == ["duplicate"]


def test_a_count_after_a_picking_of_the_same_day_agrees_in_both_orders(tablet):
    ends = set()
    for turn in (1, -1):
        tray = TrayFactory(counted=80)
        standing.refold(trays=[tray], recorded_at=NOW)
        deed = picking(tray, {"quantity": 50}, quantity=50, ago=timedelta(hours=2))
        count = item(tray, count=30)
        for one in (deed, count)[::turn]:
            send(tablet, one)
        tray.refresh_from_db()
        ends.add((tray.alive, ToSettle.objects.open().count()))
    assert ends == {(30, 0)}


def test_two_moves_of_a_day_end_where_the_later_one_went_in_both_orders(tablet):
    benches = BenchFactory(rows=2, columns=2), BenchFactory(rows=2, columns=2)
    for turn in (1, -1):
        tray = TrayFactory()
        moves = [item(tray, kind="move", bench=bench.code, row=1, column=1, ago=timedelta(hours=h))
                 for bench, h in zip(benches, (3, 1), strict=True)]  # fmt: skip
        for one in moves[::turn]:
            assert statuses(tablet, one) == ["created"]
        tray.refresh_from_db()
        assert tray.bench == benches[1]


# Who stands there


def prove(client, **body):
    return client.post(
        reverse("batches:sync-person"), json.dumps(body), content_type="application/json"
    )


def test_a_pin_proves_a_name_and_the_look_says_so(tablet, tray, hand_person):
    bench_people.set_pin(person=hand_person, pin="402718")
    answer = prove(tablet, name=hand_person.name, pin="402718")
    assert answer.json() == {"name": hand_person.name, "verified": True}
    tapped = item(tray, by=hand_person.name, by_verified=False)
    assert statuses(tablet, item(tray, by_verified=True), tapped, item(tray)) == ["created"] * 3
    kept = {TrayCheck.objects.get(pk=tapped["id"]).by_verified}
    assert kept == {False}
    assert set(TrayCheck.objects.values_list("by_verified", flat=True)) == {True, False, None}


def test_wrong_pins_cost_time_by_person_and_the_others_go_on(
    tablet, hand_person, office_person, monkeypatch
):
    for person, pin in ((hand_person, "402718"), (office_person, "918273")):
        bench_people.set_pin(person=person, pin=pin)
    for _ in range(5):
        answer = prove(tablet, name=hand_person.name, pin="000000")
        assert answer.status_code == 403
        assert "wait_seconds" not in answer.json()
    answer = prove(tablet, name=hand_person.name, pin="402718")
    assert (answer.status_code, answer.json()["wait_seconds"]) == (403, 31)
    assert "badge" in answer.json()["error"]
    assert prove(tablet, name=office_person.name, pin="918273").status_code == 200
    assert [(one.name, one.times) for one in bench_people.wrong_pins(now=NOW)] == [
        (hand_person.name, 5)
    ]
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(seconds=40))
    assert prove(tablet, name=hand_person.name, pin="402718").status_code == 200


def test_one_tablet_is_slowed_down_whoever_it_tries(tablet):
    for number in range(20):
        assert "wait_seconds" not in prove(tablet, name=f"Nobody {number}", pin="1").json()
    assert prove(tablet, name="Somebody else", pin="1").json()["wait_seconds"] > 0


def test_a_badge_proves_a_name_until_it_is_void(tablet, hand_person):
    badge = bench_people.make_badge(person=hand_person)
    assert badge.startswith("BADGE-")
    assert badge.removeprefix("BADGE-") not in Person.objects.get(pk=hand_person.pk).badge_hash
    assert prove(tablet, badge=badge).json() == {"name": hand_person.name, "verified": True}
    assert prove(tablet, badge=badge.lower().replace("-", " ")[6:]).status_code == 200
    bench_people.make_badge(person=hand_person)
    assert prove(tablet, badge=badge).status_code == 403
    newest = bench_people.make_badge(person=hand_person)
    bench_people.take_badge_back(person=hand_person)
    assert prove(tablet, badge=newest).status_code == 403


@pytest.mark.parametrize("body", ["", "[]", "{}", '{"name": 4, "pin": "1"}', '{"badge": []}', "{"])
def test_a_proof_that_cannot_be_read_is_a_400(tablet, body):
    answer = tablet.post(reverse("batches:sync-person"), body, content_type="application/json")
    assert answer.status_code == 400
    assert answer.json()["error"]


# What the records and the person at the bench need of every answer


def test_a_look_that_names_nobody_bears_the_tablets_name(tablet, hand, hand_person, tray):
    nobody = item(tray, ago=timedelta(hours=2), by=None)
    assert statuses(tablet, nobody) == ["created"]
    assert TrayCheck.objects.get(pk=nobody["id"]).by == "Mist house"
    struck = item(tray, kind="strike_out", strikes_out=nobody["id"], by="")
    assert statuses(tablet, struck) == ["created"]
    assert TrayCheck.objects.get(pk=struck["id"]).by == "Mist house"
    signed_in = item(tray, by=" ")
    assert statuses(hand, signed_in) == ["created"]
    assert TrayCheck.objects.get(pk=signed_in["id"]).by == hand_person.name


def test_what_waits_for_the_manager_is_not_called_lost(tablet, tray):
    answer = send(tablet, item(tray, losses=[{"quantity": 4_000, "cause": "rot"}]))
    told = answer.json()["results"][0]
    assert told["status"] == "review"
    assert "Nothing was stored" not in told["message"]
    assert "waits for the manager" in told["message"]
    assert "its losses were set aside" in ToSettle.objects.get().reason


def test_a_tray_set_apart_at_the_bench_is_apart_once_and_comes_back(tablet, tray):
    apart = item(tray, kind="isolate", isolated=True)
    assert statuses(tablet, apart) == ["created"]
    assert statuses(tablet, apart) == ["duplicate"]
    tray.refresh_from_db()
    assert tray.isolated
    assert statuses(tablet, item(tray, kind="isolate", isolated=False), apart) == [
        "created",
        "duplicate",
    ]
    tray.refresh_from_db()
    assert not tray.isolated
    assert tray.keeping_changes.count() == 2
