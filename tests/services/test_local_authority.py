"""Is the nursery's own authority made once, kept secret, limited and renewed in time?"""

from __future__ import annotations

import os
import stat
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from batches.services import local_authority
from batches.services.local_authority import (
    Authority,
    CertificateUnreadable,
    authority_for_serving,
    folder_of,
    read_authority,
)


@pytest.fixture
def authority(tmp_path: Path, now: datetime) -> Authority:
    """An authority just made."""
    return authority_for_serving(data=tmp_path, now=now, limited=True)


def test_it_is_made_once_for_ten_years(authority: Authority, tmp_path: Path, now: datetime) -> None:
    assert timedelta(days=3650) <= authority.until - now <= timedelta(days=3653)
    assert authority.certificate.not_valid_before_utc == now - timedelta(days=1)
    again = authority_for_serving(data=tmp_path, now=now + timedelta(days=900), limited=False)
    assert again.fingerprint == authority.fingerprint
    found = read_authority(data=tmp_path)
    assert found is not None
    assert found.fingerprint == authority.fingerprint


def test_no_other_account_can_read_its_key(authority: Authority, tmp_path: Path) -> None:
    folder = folder_of(tmp_path)
    (file,) = folder.iterdir()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert b"PRIVATE KEY" in file.read_bytes()
    assert b"PRIVATE" not in authority.pem


def test_its_certificate_is_that_of_an_authority_for_servers_only(authority: Authority) -> None:
    """RFC 5280, 4.2.1.9 (path length), 4.2.1.3 (key usage), 4.2.1.2 (key identifier)."""
    certificate = authority.certificate
    basic = certificate.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert (basic.value.ca, basic.value.path_length) == (True, 0)
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage)
    assert usage.critical
    assert usage.value.key_cert_sign
    assert not usage.value.digital_signature
    named = certificate.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    assert named == x509.SubjectKeyIdentifier.from_public_key(certificate.public_key())
    assert isinstance(certificate.signature_hash_algorithm, hashes.SHA256)
    assert certificate.subject == certificate.issuer
    certificate.verify_directly_issued_by(certificate)


def test_it_vouches_for_private_names_alone_unless_the_nursery_says_otherwise(
    authority: Authority, tmp_path: Path, now: datetime
) -> None:
    assert authority.is_limited
    assert authority.vouches_for("fernery.home.arpa")
    assert not authority.vouches_for("ferns.example.com")
    other = authority_for_serving(data=tmp_path / "other", now=now, limited=False)
    assert not other.is_limited
    assert other.vouches_for("ferns.example.com")


def test_two_authorities_bear_different_names(
    authority: Authority, tmp_path: Path, now: datetime
) -> None:
    # On one tablet, two of one name with different keys would be mistaken for each other.
    other = authority_for_serving(data=tmp_path / "other", now=now, limited=True)
    assert other.certificate.subject != authority.certificate.subject


def test_for_its_last_two_years_it_is_renewed_with_the_same_key_and_name(
    authority: Authority, tmp_path: Path, now: datetime
) -> None:
    early = authority.until - timedelta(days=731)
    assert authority_for_serving(data=tmp_path, now=early, limited=True).pem == authority.pem
    late = authority.until - timedelta(days=729)
    renewed = authority_for_serving(data=tmp_path, now=late, limited=False)
    assert renewed.fingerprint != authority.fingerprint
    assert renewed.until > authority.until + timedelta(days=2900)
    assert renewed.certificate.public_key() == authority.certificate.public_key()
    assert renewed.certificate.subject == authority.certificate.subject
    assert renewed.is_limited  # as it was made
    found = read_authority(data=tmp_path)
    assert found is not None
    assert found.fingerprint == renewed.fingerprint


def test_the_fingerprint_is_the_one_devices_show(authority: Authority, tmp_path: Path) -> None:
    """The SHA-256 of the DER form (cross-implementation: Python's own hashlib)."""
    import hashlib

    der = authority.certificate.public_bytes(serialization.Encoding.DER)
    plain = hashlib.sha256(der).hexdigest().upper()
    assert authority.fingerprint.replace(":", "") == plain
    assert len(authority.fingerprint.split(":")) == 32


@pytest.mark.parametrize("content", [b"", b"no certificate", b"\x00" * 400])
def test_a_file_that_holds_something_else_is_kept_and_named(
    tmp_path: Path, now: datetime, content: bytes
) -> None:
    file = folder_of(tmp_path) / "authority.pem"
    file.parent.mkdir()
    file.write_bytes(content)
    with pytest.raises(CertificateUnreadable, match=r"authority\.pem cannot be read"):
        authority_for_serving(data=tmp_path, now=now, limited=True)
    assert file.read_bytes() == content


def test_a_key_that_is_not_the_certificates_is_refused(
    authority: Authority, tmp_path: Path, now: datetime
) -> None:
    file = folder_of(tmp_path) / "authority.pem"
    other = ec.generate_private_key(ec.SECP256R1())
    file.write_bytes(local_authority.in_pem(authority.certificate, other))
    with pytest.raises(CertificateUnreadable):
        read_authority(data=tmp_path)


def test_a_disk_that_fills_while_it_is_renewed_leaves_the_earlier_one(
    authority: Authority, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        authority_for_serving(data=tmp_path, now=authority.until, limited=True)
    monkeypatch.undo()
    found = read_authority(data=tmp_path)
    assert found is not None
    assert found.fingerprint == authority.fingerprint
    assert [path.name for path in folder_of(tmp_path).iterdir()] == ["authority.pem"]


def test_a_folder_without_one_has_none(tmp_path: Path) -> None:
    assert read_authority(data=tmp_path) is None
