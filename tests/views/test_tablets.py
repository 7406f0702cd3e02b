"""Does the manager see which tablet is silent, enrol another, and take in what one saved?"""

from __future__ import annotations

import json
import re
from datetime import timedelta
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from batches.models import Device, ToSettle, TrayCheck
from batches.services import bench_people, standing
from batches.services.own_settings import set_own
from batches.services.tablet_watch import silent_tablets
from tests.factories import NOW, DeviceFactory, TrayFactory
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_a_tablet_is_listed_with_what_it_holds_and_office_may_only_read(manager, office, tablet):
    tablet.get(reverse("batches:sync-hello"), {"waiting": "3", "photos": "1"})
    for client in (manager, office):
        text = page(client, "tablets")
        assert "Mist house" in text
        assert "3 looks and 1 photo" in text
        assert "silent since" not in text
    assert "Revoke" in page(manager, "tablets")
    assert "Revoke" not in page(office, "tablets")


@pytest.mark.parametrize(
    ("waiting", "hours", "silent"),
    [(0, 71, False), (0, 72, True), (1, 11, False), (1, 12, True)],
)
def test_a_tablet_with_something_to_send_is_missed_sooner(manager, office, waiting, hours, silent):
    DeviceFactory(name="Drawer", waiting=waiting, last_seen_at=NOW - timedelta(hours=hours))
    assert bool(silent_tablets(now=NOW)) is silent
    assert ("silent since" in page(manager, "tablets")) is silent
    assert ("Drawer" in manager.get("/").content.decode()) is silent
    assert "Drawer" not in office.get("/").content.decode()


def test_a_revoked_tablet_is_named_apart_and_nags_no_more(manager, tablet):
    device = Device.objects.get()
    Device.objects.update(waiting=2, last_seen_at=NOW - timedelta(days=9))
    answer = manager.post(reverse("batches:tablet-revoke", args=[device.pk]), follow=True)
    text = answer.content.decode()
    assert "What waits on it stays there" in text
    assert "it had 2 to send" in text
    assert silent_tablets(now=NOW) == ()
    assert tablet.get(reverse("batches:bench-day")).json()["revoked"] is True


def test_a_code_is_shown_with_its_qr_and_enrols_one_tablet(manager):
    set_own(name="label_address", value="https://ferns.home.arpa")
    text = manager.post(reverse("batches:tablet-enrol"), {"name": "Fern frame"}).content.decode()
    code = re.search(r'enrol-code">([A-Z2-9-]{19})<', text)
    assert code is not None
    assert f"/enrol/{code.group(1)}/" in text
    assert "data:image/svg+xml" in text
    assert 'data-seconds="600"' in text
    assert "10:10" in text or "09:10" in text
    newcomer = Client()
    assert newcomer.post(f"/enrol/{code.group(1)}/").status_code == 200
    assert newcomer.get(reverse("batches:bench-page")).status_code == 200
    assert "Fern frame" in page(manager, "tablets")


def test_an_address_of_this_machine_alone_is_called_that(manager):
    answer = manager.post(
        reverse("batches:tablet-enrol"), {"name": "A"}, headers={"host": "localhost"}
    )
    assert "leads nowhere from a tablet" in answer.content.decode()


def test_a_tablet_without_a_name_gets_no_code(manager):
    answer = manager.post(reverse("batches:tablet-enrol"), {"name": "  "})
    assert answer.status_code == 422
    assert Device.objects.count() == 0


def test_the_manager_is_told_of_wrong_pins(manager, hand_person):
    bench_people.set_pin(person=hand_person, pin="402718")
    for _ in range(5):
        with pytest.raises(bench_people.NotProved):
            bench_people.person_of_pin(name=hand_person.name, pin="1", device="x", now=NOW)
    assert "a wrong PIN was typed 5 times" in page(manager, "tablets")


# What a tablet saved


def saved(*items, **more) -> SimpleUploadedFile:
    body = {"sent_at": (NOW - timedelta(hours=5)).isoformat(), "items": list(items)} | more
    return SimpleUploadedFile("waiting.json", json.dumps(body).encode())


def look(tray, **more):
    return {"id": str(uuid4()), "kind": "check", "tray": tray.code, "by": "Wilf",
            "occurred_at": (NOW - timedelta(hours=7)).isoformat()} | more  # fmt: skip


@pytest.fixture
def tray():
    one = TrayFactory(counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


def test_what_a_tablet_saved_is_taken_in_once_at_its_own_times(manager, tablet, tray):
    looks = [look(tray, signs=["mould"]), *(look(tray) for _ in range(119)), look(tray, count=900)]
    address = reverse("batches:tablet-file")
    data = {"file": saved(*looks), "tablet": Device.objects.get().pk}
    text = manager.post(address, data).content.decode()
    assert "120 stored, 1 to settle" in text
    assert TrayCheck.objects.count() == 121
    assert ToSettle.objects.open().count() == 1
    first = TrayCheck.objects.get(pk=looks[0]["id"])
    assert (first.seen_at, first.device) == (NOW - timedelta(hours=7), "Mist house")
    again = manager.post(address, {"file": saved(*looks)}).content.decode()
    assert "121 stored before" in again
    body = {"sent_at": NOW.isoformat(), "items": looks[:50]}
    sent = tablet.post(reverse("batches:sync"), json.dumps(body), content_type="application/json")
    assert {one["status"] for one in sent.json()["results"]} == {"duplicate"}


def test_a_clock_that_was_off_is_put_right_by_what_the_file_says(manager, tray):
    one = look(tray)
    off = int(timedelta(hours=2).total_seconds() * 1000)
    manager.post(reverse("batches:tablet-file"), {"file": saved(one, clock_off_ms=off)})
    assert TrayCheck.objects.get().seen_at == NOW - timedelta(hours=5)


@pytest.mark.parametrize("data", [b"", b"[]", b"{", b'{"items": 5}', b"\xff\xfe", b'{"a": 1}'])
def test_a_file_that_is_none_of_a_tablets_is_refused_in_words(manager, data):
    answer = manager.post(
        reverse("batches:tablet-file"), {"file": SimpleUploadedFile("x.json", data)}
    )
    assert answer.status_code == 422
    assert TrayCheck.objects.count() == 0
