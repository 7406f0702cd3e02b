"""Does a session end by itself, and is a password asked for again before what matters most?"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from django.test import Client

from batches.models import Person
from batches.services import session_limits
from batches.views import clock
from tests.factories import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
WORDS = "a shed full of moss"
At = Callable[[timedelta], None]


@pytest.fixture
def at(monkeypatch: pytest.MonkeyPatch) -> At:
    """Sets the clock so much later than the sign-in."""
    return lambda later: monkeypatch.setattr(clock, "now", lambda: NOW + later)


def is_in(client: Client) -> bool:
    return client.get("/my-password/").status_code == 200


def test_somebody_who_keeps_working_is_signed_out_after_twelve_hours(hand: Client, at: At) -> None:
    for hours in range(13):
        at(timedelta(hours=hours))
        assert is_in(hand)
    at(timedelta(hours=12, minutes=1))
    assert not is_in(hand)


@pytest.mark.parametrize(("minutes", "stays"), [(119, True), (121, False)])
def test_somebody_who_went_away_is_signed_out_after_two_hours(
    hand: Client, at: At, minutes: int, stays: bool
) -> None:
    assert is_in(hand)
    at(timedelta(minutes=minutes))
    assert is_in(hand) is stays


def test_a_clock_set_back_a_day_ends_the_session(hand: Client, at: At) -> None:
    assert is_in(hand)
    at(-timedelta(days=1))
    assert not is_in(hand)


@pytest.fixture
def proved(manager_person: Person) -> Client:
    """The manager, who has a password and signed in with it."""
    manager_person.set_password(WORDS)
    manager_person.save()
    client = Client()
    client.post("/sign-in/", {"name": manager_person.name, "password": WORDS})
    return client


@pytest.mark.parametrize("path", ["/people/", "/settings/", "/changes/", "/tablets/"])
def test_the_password_is_asked_for_again_after_half_an_hour_where_it_matters(
    proved: Client, at: At, path: str
) -> None:
    assert proved.get(path).status_code == 200
    at(timedelta(minutes=31))
    answer = proved.get(path)
    assert answer["Location"].startswith("/prove/?next=")
    refused = proved.post("/prove/", {"password": "a shed full of peat", "next": path})
    assert refused.status_code == 422
    assert proved.get(path).status_code == 302
    assert proved.post("/prove/", {"password": WORDS, "next": path})["Location"] == path
    assert proved.get(path).status_code == 200
    assert proved.get("/").status_code == 200


def test_what_was_sent_too_late_is_not_stored_and_says_so(proved: Client, at: At) -> None:
    at(timedelta(minutes=31))
    answer = proved.post("/people/", {"name": "Ines Brake", "role": "hand"}, follow=True)
    assert "Nothing was stored yet" in answer.content.decode()
    assert not Person.objects.filter(name="Ines Brake").exists()


def test_wrong_passwords_here_are_counted_as_at_the_sign_in(proved: Client, at: At) -> None:
    at(timedelta(minutes=31))
    for _ in range(5):
        proved.post("/prove/", {"password": "wrong"})
    assert "Wait 3" in proved.post("/prove/", {"password": WORDS}).content.decode()


def test_the_way_on_never_leads_to_another_site(proved: Client) -> None:
    sent = {"password": WORDS, "next": "https://elsewhere.example/"}
    assert proved.post("/prove/", sent)["Location"] == "/"


def test_who_has_no_password_is_not_asked_for_one(manager: Client, at: At) -> None:
    assert manager.get("/people/").status_code == 200
    at(timedelta(minutes=90))
    assert manager.get("/people/").status_code == 200


def test_a_moment_that_cannot_be_is_not_fresh() -> None:
    fresh = session_limits.is_fresh
    assert not fresh(proved=None, now=NOW)
    assert not fresh(proved=NOW + timedelta(minutes=1), now=NOW)
    assert fresh(proved=NOW, now=NOW)
    assert session_limits.is_over(began=NOW, seen=NOW, now=datetime.max.replace(tzinfo=NOW.tzinfo))


def test_an_export_asks_too(proved: Client, at: At) -> None:
    at(timedelta(minutes=31))
    assert proved.get("/records/export/")["Location"].startswith("/prove/")
