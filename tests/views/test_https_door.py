"""While https is served, does plain http answer what sets a tablet up, and nothing else?"""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client

from batches.models import StoredForm, TrayCheck

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("over_https")]


@pytest.mark.parametrize("host", ["fernery.home.arpa", "192.168.1.20"])
def test_whoever_reads_over_http_is_led_to_the_same_page_over_https(
    stranger: Client, host: str
) -> None:
    answer = stranger.get("/t/26W14-073-05-P?x=1", headers={"host": f"{host}:8000"})
    assert answer.status_code == 302  # for now: browsers keep a permanent one
    assert answer["Location"] == f"https://{host}:8443/t/26W14-073-05-P?x=1"


def test_a_name_that_the_certificate_does_not_hold_leads_to_the_best_one(stranger: Client) -> None:
    answer = stranger.head("/", headers={"host": "bare:8000"})
    assert answer["Location"] == "https://fernery.home.arpa:8443/"


def test_a_name_that_is_not_this_servers_is_led_nowhere(stranger: Client) -> None:
    assert stranger.get("/", headers={"host": "elsewhere.example"}).status_code == 400


@pytest.mark.parametrize("path", ["/sync/", "/sign-in/", "/trays/x/deed/discard/"])
def test_what_is_sent_over_http_is_refused_unread(manager: Client, path: str) -> None:
    answer = manager.post(path, {"code": "x"}, headers={"host": "fernery.home.arpa:8000"})
    assert answer.status_code == 403
    assert "https://fernery.home.arpa:8443" in answer.content.decode()
    assert "Nothing was stored" in answer.content.decode()
    assert not TrayCheck.objects.exists()
    assert not StoredForm.objects.exists()


def test_the_server_says_over_http_that_it_is_awake(stranger: Client) -> None:
    answer = stranger.get("/health/", headers={"host": "192.168.1.20:8000"})
    assert answer.json() == {"ok": True}


def test_over_https_pages_are_as_ever_and_cookies_are_secure(
    stranger: Client, manager: Client
) -> None:
    answer = stranger.get("/sign-in/", secure=True, headers={"host": "fernery.home.arpa:8443"})
    assert answer.status_code == 200
    assert "Strict-Transport-Security" not in answer.headers
    token = answer.cookies[settings.CSRF_COOKIE_NAME]
    assert token.key == "__Host-frondbook_csrftoken"
    assert token["secure"]
    assert token["path"] == "/"
    assert not token["domain"]
    assert manager.get("/settings/", secure=True).status_code == 200


def test_a_form_is_taken_from_its_own_page_alone(manager_person: object) -> None:
    """Django compares where a form comes from with the host asked, port and scheme included."""
    client = Client(enforce_csrf_checks=True)
    host = {"host": "fernery.home.arpa:8443"}
    token = (
        client.get("/sign-in/", secure=True, headers=host).cookies[settings.CSRF_COOKIE_NAME].value
    )
    sent = {"csrfmiddlewaretoken": token, "name": "Greta Lunn", "password": "wrong"}
    statuses = {
        origin: client.post(
            "/sign-in/", sent, secure=True, headers={**host, "origin": origin}
        ).status_code
        for origin in (
            "https://fernery.home.arpa:8443",
            "http://fernery.home.arpa:8000",
            "https://elsewhere.example",
        )
    }
    assert statuses == {
        "https://fernery.home.arpa:8443": 422,
        "http://fernery.home.arpa:8000": 403,
        "https://elsewhere.example": 403,
    }


def test_without_https_nothing_is_led_anywhere(stranger: Client, settings: object) -> None:
    settings.NURSERY_HTTPS_AT = None  # type: ignore[attr-defined]
    settings.SECURE_SSL_REDIRECT = False  # type: ignore[attr-defined]
    assert stranger.get("/sign-in/").status_code == 200
