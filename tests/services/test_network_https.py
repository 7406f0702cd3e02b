"""Is https served for the names that the authority vouches for, and told where it answers?"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from batches.services.network_https import HttpsAt, in_address, prepare_https, web_address

CALLED = ("ferns.example.com", "fernery.home.arpa", "192.168.1.20", "127.0.0.1", "fernhost")


def test_names_for_which_a_limited_authority_does_not_vouch_are_left_out_and_named(
    tmp_path: Path, now: datetime
) -> None:
    https = prepare_https(data=tmp_path, called=CALLED, limited=True, now=now)
    assert https.certificate.hosts == ("fernery.home.arpa", "192.168.1.20", "127.0.0.1")
    assert https.left_out == ("ferns.example.com", "fernhost")


def test_an_authority_that_is_not_limited_vouches_for_all(tmp_path: Path, now: datetime) -> None:
    https = prepare_https(data=tmp_path, called=CALLED, limited=False, now=now)
    assert https.certificate.hosts == CALLED
    assert https.left_out == ()


def test_it_is_newer_only_where_another_certificate_was_made(tmp_path: Path, now: datetime) -> None:
    first = prepare_https(data=tmp_path, called=CALLED, limited=True, now=now)
    second = prepare_https(
        data=tmp_path, called=CALLED, limited=True, now=now + timedelta(days=300)
    )
    third = prepare_https(data=tmp_path, called=CALLED, limited=True, now=now + timedelta(days=340))
    assert not second.is_newer_than(first)
    assert third.is_newer_than(second)


@pytest.mark.parametrize(
    ("host", "address"),
    [
        ("192.168.1.20", "https://192.168.1.20:8443"),
        ("Fernery.Home.Arpa", "https://fernery.home.arpa:8443"),
        ("[fd00::7]", "https://[fd00::7]:8443"),
        ("fernhost", "https://fernery.home.arpa:8443"),
    ],
)
def test_whoever_comes_is_sent_to_a_host_that_the_certificate_holds(
    host: str, address: str
) -> None:
    at = HttpsAt(hosts=("fernery.home.arpa", "192.168.1.20", "fd00::7"), port=8443, http_port=80)
    assert at.address_for(host) == address
    plain = address.replace("https://", "http://").replace(":8443", ":80")
    assert at.plain_address_for(host) == plain


def test_ipv6_stands_in_brackets() -> None:
    # RFC 3986, 3.2.2
    assert in_address("fd00::7") == "[fd00::7]"
    assert in_address("[fd00::7]") == "[fd00::7]"
    assert web_address("http", "192.168.1.20", 80) == "http://192.168.1.20:80"
