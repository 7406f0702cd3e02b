"""Do other programs take the server's certificate, for the right hosts and the right days alone?

Judged by two implementations that are not ours: `cryptography`'s verifier (which holds to RFC 5280
and what browsers ask of public certificates) and OpenSSL's own program.
"""

from __future__ import annotations

import shutil
import subprocess
from datetime import datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.x509 import verification
from cryptography.x509.oid import ExtendedKeyUsageOID

from batches.services import server_certificate
from batches.services.local_authority import Authority, authority_for_serving, folder_of
from batches.services.server_certificate import (
    ServerCertificate,
    certificate_for_serving,
    read_server_certificate,
)

HOSTS = ("fernery.home.arpa", "192.168.1.20", "127.0.0.1", "localhost", "fernhost.local", "fd00::7")


@pytest.fixture
def authority(tmp_path: Path, now: datetime) -> Authority:
    """The nursery's own authority."""
    return authority_for_serving(data=tmp_path, now=now, limited=True)


@pytest.fixture
def served(authority: Authority, tmp_path: Path, now: datetime) -> ServerCertificate:
    """A certificate just made."""
    return certificate_for_serving(data=tmp_path, authority=authority, hosts=HOSTS, now=now)


def is_taken(certificate: x509.Certificate, authority: Authority, host: str, at: datetime) -> bool:
    """Say whether `cryptography`'s verifier takes a certificate for a host at a moment."""
    try:
        subject: verification.Subject = x509.IPAddress(ip_address(host))
    except ValueError:
        subject = x509.DNSName(host)
    store = verification.Store([authority.certificate])
    verifier = verification.PolicyBuilder().store(store).time(at).build_server_verifier(subject)
    try:
        verifier.verify(certificate, [])
    except verification.VerificationError:
        return False
    return True


def openssl_says(authority: Authority, certificate: x509.Certificate, *more: str) -> str:
    """Give what OpenSSL's program says to a certificate, when only the authority is trusted."""
    program = shutil.which("openssl")
    if program is None:
        pytest.skip("no openssl program")
    pem = serialization.Encoding.PEM
    from tempfile import TemporaryDirectory

    with TemporaryDirectory() as folder:
        trusted, asked = Path(folder) / "trusted.pem", Path(folder) / "asked.pem"
        trusted.write_bytes(authority.pem)
        asked.write_bytes(certificate.public_bytes(pem))
        done = subprocess.run(
            [program, "verify", "-purpose", "sslserver", "-x509_strict", "-CAfile", trusted, *more,
             asked],
            capture_output=True, text=True, timeout=30, check=False,
        )  # fmt: skip
    return done.stdout + done.stderr


@pytest.mark.parametrize("host", HOSTS)
def test_it_is_taken_for_every_host_it_was_made_for(
    served: ServerCertificate, authority: Authority, now: datetime, host: str
) -> None:
    assert is_taken(served.certificate, authority, host, now)


@pytest.mark.parametrize("host", ["other.home.arpa", "www.example.com", "192.168.1.21"])
def test_it_is_taken_for_no_other_host(
    served: ServerCertificate, authority: Authority, now: datetime, host: str
) -> None:
    assert not is_taken(served.certificate, authority, host, now)


def test_it_is_taken_from_the_day_before_for_397_days(
    served: ServerCertificate, authority: Authority, now: datetime
) -> None:
    hours = timedelta(hours=1)
    begin, end = now - timedelta(days=1), now + timedelta(days=396)
    for at, taken in (
        (begin - hours, False), (begin + hours, True), (end - hours, True), (end + hours, False),
    ):  # fmt: skip
        assert is_taken(served.certificate, authority, "fernery.home.arpa", at) is taken
    whole = served.until - served.certificate.not_valid_before_utc
    assert whole == timedelta(days=397)


def test_it_says_what_browsers_and_tablets_ask_for(
    served: ServerCertificate, tmp_path: Path
) -> None:
    """Subject alternative names, server authentication, SHA-256, no authority of its own.

    Published: a tablet maker's requirements for TLS server certificates (support document 103769);
    CA/Browser Forum Baseline Requirements 7.1.2.7.
    """
    extensions = served.certificate.extensions
    purpose = extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(purpose) == [ExtendedKeyUsageOID.SERVER_AUTH]
    basic = extensions.get_extension_for_class(x509.BasicConstraints).value
    assert not basic.ca
    assert isinstance(served.certificate.signature_hash_algorithm, hashes.SHA256)
    assert served.hosts == HOSTS
    assert served.path.stat().st_mode & 0o777 == 0o600
    assert b"PRIVATE KEY" in served.path.read_bytes()


def test_openssl_takes_it_and_refuses_another_name(
    served: ServerCertificate, authority: Authority
) -> None:
    at = str(int((served.until - timedelta(days=5)).timestamp()))
    assert "OK" in openssl_says(
        authority, served.certificate, "-attime", at, "-verify_hostname", HOSTS[0]
    )
    refused = openssl_says(
        authority, served.certificate, "-attime", at, "-verify_hostname", "www.example.com"
    )
    assert "hostname mismatch" in refused.lower()


@pytest.mark.parametrize("host", ["www.example.com", "8.8.8.8"])
@pytest.mark.parametrize("limited", [True, False])
def test_what_a_thief_of_a_limited_authoritys_key_makes_for_a_public_site_is_refused(
    tmp_path: Path, now: datetime, host: str, limited: bool
) -> None:
    authority = authority_for_serving(data=tmp_path, now=now, limited=limited)
    forged = certificate_for_serving(data=tmp_path, authority=authority, hosts=(host,), now=now)
    assert is_taken(forged.certificate, authority, host, now) is not limited
    at = str(int(now.timestamp()))
    said = openssl_says(authority, forged.certificate, "-attime", at)
    assert ("permitted subtree violation" in said) is limited
    assert ("OK" in said) is not limited


def test_it_is_kept_until_sixty_days_are_left_and_then_made_anew(
    served: ServerCertificate, authority: Authority, tmp_path: Path, now: datetime
) -> None:
    def on(day: datetime) -> ServerCertificate:
        return certificate_for_serving(data=tmp_path, authority=authority, hosts=HOSTS, now=day)

    assert on(served.until - timedelta(days=60, hours=1)) == served
    renewed = on(served.until - timedelta(days=60))
    assert renewed.certificate.serial_number != served.certificate.serial_number
    assert renewed.certificate.public_key() != served.certificate.public_key()
    assert renewed.until == served.until + timedelta(days=336)
    assert read_server_certificate(data=tmp_path) == renewed


def test_it_is_made_anew_for_other_hosts(
    served: ServerCertificate, authority: Authority, tmp_path: Path, now: datetime
) -> None:
    hosts = ("fernery.home.arpa", "192.168.1.99")
    other = certificate_for_serving(data=tmp_path, authority=authority, hosts=hosts, now=now)
    assert other.hosts == hosts
    assert is_taken(other.certificate, authority, "192.168.1.99", now)
    assert not is_taken(other.certificate, authority, "192.168.1.20", now)


def test_it_is_made_anew_by_another_authority_and_where_it_cannot_be_read(
    served: ServerCertificate, authority: Authority, tmp_path: Path, now: datetime
) -> None:
    other = authority_for_serving(data=tmp_path / "other", now=now, limited=True)
    by_other = certificate_for_serving(data=tmp_path, authority=other, hosts=HOSTS, now=now)
    assert is_taken(by_other.certificate, other, HOSTS[0], now)
    assert not is_taken(by_other.certificate, authority, HOSTS[0], now)
    (folder_of(tmp_path) / "server.pem").write_bytes(b"cut short")
    again = certificate_for_serving(data=tmp_path, authority=authority, hosts=HOSTS, now=now)
    assert is_taken(again.certificate, authority, HOSTS[0], now)


def test_tablets_of_the_earlier_authority_take_what_the_renewed_one_makes(
    served: ServerCertificate, authority: Authority, tmp_path: Path
) -> None:
    later = authority.until - timedelta(days=700)
    renewed = authority_for_serving(data=tmp_path, now=later, limited=True)
    assert renewed.fingerprint != authority.fingerprint
    made = certificate_for_serving(data=tmp_path, authority=renewed, hosts=HOSTS, now=later)
    assert is_taken(made.certificate, authority, HOSTS[0], later)
    assert is_taken(made.certificate, renewed, HOSTS[0], later)


def test_it_never_outlives_its_authority(
    authority: Authority, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(server_certificate, "SERVER_DAYS", 5000)
    now = authority.until - timedelta(days=100)
    made = certificate_for_serving(data=tmp_path, authority=authority, hosts=HOSTS, now=now)
    assert made.until == authority.until


def test_days_left_fall_below_zero(served: ServerCertificate, now: datetime) -> None:
    assert served.days_left(now) == 396
    assert served.days_left(served.until) == 0
    assert served.days_left(served.until + timedelta(hours=1)) == -1


def test_a_folder_without_one_has_none(tmp_path: Path) -> None:
    assert read_server_certificate(data=tmp_path) is None
