"""Does a new device find what it needs on the page where it is set up, and no secret?"""

from __future__ import annotations

import plistlib
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from django.test import Client

from batches.services.local_authority import Authority, authority_for_serving

pytestmark = pytest.mark.django_db

HOST = {"host": "fernery.home.arpa:8000"}


@pytest.fixture
def authority(tmp_path: Path, now: datetime, settings: Any, over_https: None) -> Authority:
    """The authority of a nursery that is served over https."""
    settings.NURSERY_DATA = tmp_path
    return authority_for_serving(data=tmp_path, now=now, limited=True)


def test_the_page_shows_the_fingerprint_and_may_ask_https_alone(
    stranger: Client, authority: Authority
) -> None:
    answer = stranger.get("/setup/", headers=HOST)
    page = answer.content.decode()
    for pair in authority.fingerprint.split(":"):
        assert f"<span>{pair}</span>" in page
    assert 'data-address="https://fernery.home.arpa:8443/health/"' in page
    policy = answer["Content-Security-Policy"]
    assert "connect-src 'self' https://fernery.home.arpa:8443;" in f"{policy};"
    assert "no-store" in answer["Cache-Control"]
    assert "unsafe" not in policy
    assert "It is limited to names" in page


def test_other_pages_may_ask_nobody_else(stranger: Client, authority: Authority) -> None:
    answer = stranger.get("/sign-in/", secure=True)
    assert "connect-src 'self';" in f"{answer['Content-Security-Policy']};"


def test_the_certificate_comes_as_a_file_that_devices_install(
    stranger: Client, authority: Authority
) -> None:
    answer = stranger.get("/setup/authority.crt", headers=HOST)
    assert answer["Content-Type"] == "application/x-x509-ca-cert"
    assert 'filename="frondbook-authority.crt"' in answer["Content-Disposition"]
    assert x509.load_pem_x509_certificate(answer.content) == authority.certificate
    assert b"PRIVATE" not in answer.content


def test_the_certificate_comes_as_a_profile(stranger: Client, authority: Authority) -> None:
    answer = stranger.get("/setup/authority.mobileconfig", headers=HOST)
    assert answer["Content-Type"] == "application/x-apple-aspen-config"
    assert plistlib.loads(answer.content)["PayloadType"] == "Configuration"
    assert b"PRIVATE" not in answer.content


def test_without_https_there_is_nothing_to_install_and_it_says_so(
    stranger: Client, tmp_path: Path, settings: Any
) -> None:
    settings.NURSERY_DATA = tmp_path
    answer = stranger.get("/setup/")
    assert "served by plain http now" in answer.content.decode()
    for name in ("authority.crt", "authority.mobileconfig"):
        assert stranger.get(f"/setup/{name}").status_code == 404


@pytest.mark.parametrize("path", ["/setup/", "/setup/authority.crt"])
def test_nothing_is_sent_to_it(manager: Client, authority: Authority, path: str) -> None:
    assert manager.post(path, headers=HOST).status_code == 405


def test_an_address_by_number_is_asked_by_number(stranger: Client, authority: Authority) -> None:
    page = stranger.get("/setup/", headers={"host": "192.168.1.20:8000"}).content.decode()
    assert 'data-address="https://192.168.1.20:8443/health/"' in page
    assert 'href="https://fernery.home.arpa:8443/"' in page  # the other name


def test_the_managers_page_shows_the_same_fingerprint(
    authority: Authority, manager: Client
) -> None:
    page = manager.get("/settings/", secure=True, headers={"host": "bare:8443"}).content.decode()
    for pair in authority.fingerprint.split(":"):
        assert f"<span>{pair}</span>" in page
    assert "https://fernery.home.arpa:8443/" in page
    assert 'href="http://fernery.home.arpa:8000/setup/"' in page


def test_the_page_with_a_tablets_code_sends_it_to_be_set_up_by_plain_http(
    authority: Authority, manager: Client
) -> None:
    """Over https a device that was not set up would only be warned."""
    host = {"host": "192.168.1.20:8443"}
    page = manager.post("/tablets/enrol/", {"name": "Mist house"}, secure=True, headers=host)
    assert "http://192.168.1.20:8000/setup/" in page.content.decode()


def test_the_managers_page_says_where_there_is_no_authority_or_none_that_can_be_read(
    manager: Client, tmp_path: Path, settings: Any
) -> None:
    settings.NURSERY_DATA = tmp_path
    assert "There is none yet" in manager.get("/settings/").content.decode()
    (tmp_path / "certificates").mkdir()
    (tmp_path / "certificates" / "authority.pem").write_bytes(b"cut short")
    assert "authority.pem cannot be read" in manager.get("/settings/").content.decode()


def test_a_name_and_an_address_are_stored_and_what_is_none_is_refused(manager: Client) -> None:
    sent = {
        "nursery_name": "", "label_address": "", "frost_c": "0", "hot_c": "32",
        "lan_name": "Fernery.Home.Arpa", "lan_address": " 192.168.1.20 ",
    }  # fmt: skip
    from batches.forms.nursery_settings import SettingsForm
    from batches.services.own_settings import KNOWN, own_setting

    kept = {name: own_setting(name) for name in KNOWN}
    sent = {
        **{name: str(value) for name, value in kept.items() if value not in {"", False}},
        **sent,
    }
    assert manager.post("/settings/", sent).status_code == 302
    assert own_setting("lan_name") == "fernery.home.arpa"
    assert own_setting("lan_address") == "192.168.1.20"
    for field, wrong in (("lan_name", "https://ferns.local"), ("lan_address", "192.168.1")):
        form = SettingsForm({**sent, field: wrong}, initial=kept)
        assert list(form.errors) == [field]
