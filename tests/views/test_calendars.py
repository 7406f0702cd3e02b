"""Does a person's calendar hold the week, at an address that opens for nobody else?

The file is read back by `icalendar`, an independent reader of RFC 5545 (*cross-implementation*).
"""

from __future__ import annotations

import re
from datetime import date, timedelta

import pytest
from django.conf import settings
from django.urls import reverse
from icalendar import Calendar

from batches.models import CalendarAddress
from batches.services import people
from batches.services.own_settings import set_own
from batches.views import clock
from tests.factories import NOW, TODAY, BenchFactory, TaxonFactory, TrayFactory
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def made(client):
    """Make an address and return its path."""
    told = client.post(reverse("batches:my-calendar"), {"do": "make"}).content.decode()
    found = re.search(r"http://testserver(/calendar/[^<]+\.ics)", told)
    assert found is not None
    return found[1]


def events(client, address):
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/calendar")
    assert "no-store" in answer["Cache-Control"]
    read = Calendar.from_ical(answer.content)
    assert read.errors == []
    return read, read.walk("VEVENT")


@pytest.fixture
def week():
    bench = BenchFactory(code="B, 1; x")
    fern = TaxonFactory(genus="Polystichum", species="setiferum", cultivar="Mossy, Ashlinn; Größe")
    for ago in (3, 0, -2, -6, -7):
        TrayFactory(bench=bench, look_due_on=TODAY - timedelta(days=ago))
    TrayFactory(look_due_on=TODAY, ended_on=TODAY, end="cleared")
    for pots, days in ((40, 10), (30, 10), (20, 56), (10, 57)):
        TrayFactory(
            batch__taxon=fern, carrier=True, stage="potted_up", counted=pots,
            expected_on=TODAY + timedelta(days=days), look_due_on=None,
        )  # fmt: skip
    return fern


def test_the_week_s_looks_and_ready_dates_are_read_by_another_program(hand, stranger, week):
    set_own(name="nursery_name", value="Hollowmere Ferns")
    read, found = events(stranger, made(hand))
    assert str(read["VERSION"]) == "2.0"
    assert "Hollowmere Ferns" in str(read["X-WR-CALNAME"])
    looks = {e["DTSTART"].dt: e for e in found if str(e["UID"]).startswith("looks")}
    assert {day: str(e["SUMMARY"]) for day, e in looks.items()} == {
        TODAY: "2 looks due, 1 overdue",
        TODAY + timedelta(days=2): "1 look due",
        TODAY + timedelta(days=6): "1 look due",
    }
    assert str(looks[TODAY]["DESCRIPTION"]).startswith("B, 1; x: ")
    ready = {e["DTSTART"].dt: str(e["SUMMARY"]) for e in found if "ready" in str(e["UID"])}
    name = week.name.text
    assert ready == {
        TODAY + timedelta(days=10): f"Ready expected: {name}, 70 pots of 9 cm",
        TODAY + timedelta(days=56): f"Ready expected: {name}, 20 pots of 9 cm",
    }
    for event in found:
        assert isinstance(event["DTSTART"].dt, date)
        assert event["DTEND"].dt - event["DTSTART"].dt == timedelta(days=1)
        assert event["DTSTAMP"].dt == NOW
    uids = [str(event["UID"]) for event in found]
    assert len(uids) == len(set(uids))


def test_read_again_the_same_things_carry_the_same_ids(hand, stranger, week):
    address = made(hand)
    first, second = (events(stranger, address)[1] for _ in range(2))
    assert [e["UID"] for e in first] == [e["UID"] for e in second]


def test_only_the_hash_of_the_address_is_kept_and_it_is_shown_once(hand):
    address = made(hand)
    secret = address.split("/")[-1].removesuffix(".ics")
    row = CalendarAddress.objects.get()
    assert secret not in row.token_hash
    assert len(row.token_hash) == 64
    assert secret not in page(hand, "my-calendar")


def test_a_wrong_or_stopped_address_is_not_found(hand, stranger):
    address = made(hand)
    assert stranger.get(address[:-5] + "x.ics").status_code == 404
    second = made(hand)
    assert stranger.get(address).status_code == 404
    assert stranger.get(second).status_code == 200
    hand.post(reverse("batches:my-calendar"), {"do": "stop"})
    assert stranger.get(second).status_code == 404
    assert "no address yet" in page(hand, "my-calendar")


def test_somebody_who_left_reads_no_more(hand, stranger, hand_person):
    address = made(hand)
    people.stop_person(person=hand_person)
    assert stranger.get(address).status_code == 404


def test_each_person_has_an_address_of_their_own(hand, office, stranger):
    first, second = made(hand), made(office)
    hand.post(reverse("batches:my-calendar"), {"do": "stop"})
    assert stranger.get(first).status_code == 404
    assert stranger.get(second).status_code == 200


def test_a_reading_is_noted_and_sets_no_cookie(hand, stranger, monkeypatch):
    address = made(hand)
    answer = stranger.get(address)
    assert settings.SESSION_COOKIE_NAME not in answer.cookies
    assert CalendarAddress.objects.get().last_read_at == NOW
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(minutes=5))
    stranger.get(address)
    assert CalendarAddress.objects.get().last_read_at == NOW
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(hours=2))
    stranger.get(address)
    assert CalendarAddress.objects.get().last_read_at == NOW + timedelta(hours=2)
    assert "Last read" in page(hand, "my-calendar")


@pytest.mark.parametrize("how_many", [3, 30])
def test_it_asks_the_same_of_3_and_30_trays(hand, stranger, how_many, django_assert_num_queries):
    address = made(hand)
    batch = TrayFactory(look_due_on=TODAY).batch
    for _ in range(how_many):
        TrayFactory(batch=batch, look_due_on=TODAY, bench=BenchFactory())
    stranger.get(address)
    with django_assert_num_queries(5):
        stranger.get(address)
