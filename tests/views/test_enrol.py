"""Does a code enrol one tablet, once, within ten minutes?"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from django.conf import settings
from django.test import Client

from batches.models import Device, EnrolmentCode
from batches.services import devices
from batches.views import clock


@pytest.fixture
def code(db: None, fixed_clock: datetime) -> str:
    """A new enrolment code."""
    made = devices.make_enrolment_code(
        tablet_name="Fern frame", made_by="Greta Lunn", now=fixed_clock
    )
    return made.secret


def test_the_codes_page_shows_one_button_and_pressing_it_sets_the_tablets_cookie(
    stranger: Client, code: str
) -> None:
    page = stranger.get(f"/enrol/{code}/").content.decode()
    (form,) = re.findall(r"<form[^>]*>", page)
    assert 'method="post"' in form
    assert f'action="/enrol/{code}/"' in form
    assert "Fern frame" in page
    answer = stranger.post(f"/enrol/{code}/")
    assert answer.status_code == 200
    cookie = answer.cookies[settings.NURSERY_DEVICE_COOKIE]
    assert cookie["httponly"] is True
    assert cookie["samesite"] == "Lax"
    assert cookie["max-age"] >= 365 * 24 * 60 * 60
    device = Device.objects.get()
    assert (device.name, device.enrolled_by) == ("Fern frame", "Greta Lunn")
    assert cookie.value not in device.token_hash


def test_a_code_enrols_one_tablet_only(stranger: Client, code: str) -> None:
    stranger.post(f"/enrol/{code}/")
    assert Client().post(f"/enrol/{code}/").status_code == 410
    assert Client().get(f"/enrol/{code}/").status_code == 410
    assert Device.objects.count() == 1


def test_a_code_is_over_after_ten_minutes(
    stranger: Client, code: str, fixed_clock: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(clock, "now", lambda: fixed_clock + timedelta(minutes=10))
    answer = stranger.post(f"/enrol/{code}/")
    assert answer.status_code == 410
    assert "Ask a manager for a new one" in answer.content.decode()
    assert not Device.objects.exists()


def test_a_code_can_be_typed_in_small_letters_without_hyphens(stranger: Client, code: str) -> None:
    answer = stranger.post("/enrol/", {"code": f" {code.lower().replace('-', ' ')} "})
    assert answer["Location"] == f"/enrol/{code}/"


def test_guessing_codes_is_slowed_down(stranger: Client, code: str) -> None:
    for _ in range(5):
        refused = stranger.post("/enrol/", {"code": "AAAA-AAAA-AAAA-AAAA"})
        assert refused.status_code == 422
    assert "Wait" in stranger.post("/enrol/", {"code": code}).content.decode()


def test_a_code_has_no_letters_that_look_alike_and_is_not_stored(code: str) -> None:
    assert re.fullmatch(r"([A-HJ-NPR-Z2-9]{4}-){3}[A-HJ-NPR-Z2-9]{4}", code)
    assert code not in EnrolmentCode.objects.get().token_hash


def test_the_program_notes_that_a_tablet_was_seen_every_five_minutes_at_most(
    stranger: Client, code: str, fixed_clock: datetime
) -> None:
    secret = stranger.post(f"/enrol/{code}/").cookies[settings.NURSERY_DEVICE_COOKIE].value
    for minutes, seen_after in ((4, 0), (6, 6), (8, 6)):
        devices.tablet_of(secret=secret, now=fixed_clock + timedelta(minutes=minutes))
        assert Device.objects.get().last_seen_at == fixed_clock + timedelta(minutes=seen_after)
