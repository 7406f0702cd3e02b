"""With which certificate does this computer serve https, and until when does it hold?

It is made by the nursery's own authority for the names and addresses by which tablets call this
computer, holds for 397 days and is made anew sixty days before its end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from batches.services.local_authority import (
    BACKDATED,
    Authority,
    CertificateUnreadable,
    folder_of,
    from_pem,
    general_name,
    in_pem,
    keep_secret_file,
    key_usage,
)

#: tablets take 825 days at most from an authority of one's own (support document 103769 of a
#: maker of tablets, read 2026); 397 is what public authorities keep below, common practice
SERVER_DAYS = 397
RENEWED_AT = timedelta(days=60)
_FILE = "server.pem"


@dataclass(frozen=True, slots=True, kw_only=True)
class ServerCertificate:
    """A certificate for https and the file that holds it with its key."""

    path: Path
    certificate: x509.Certificate

    @property
    def until(self) -> datetime:
        """Until when browsers take it."""
        return self.certificate.not_valid_after_utc

    @property
    def hosts(self) -> tuple[str, ...]:
        """The names and addresses it holds for, in order."""
        held = self.certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName)
        return tuple(str(name.value) for name in held.value)

    def days_left(self, now: datetime) -> int:
        """Return the whole days until its end; below zero where it is over."""
        return (self.until - now) // timedelta(days=1)


def read_server_certificate(*, data: Path) -> ServerCertificate | None:
    """Return the certificate of a data folder; None where none was made yet.

    Raises
    ------
    CertificateUnreadable
        Its file holds something else.
    """
    path = folder_of(data) / _FILE
    found = from_pem(path)
    return None if found is None else ServerCertificate(path=path, certificate=found[0])


def certificate_for_serving(
    *, data: Path, authority: Authority, hosts: Sequence[str], now: datetime
) -> ServerCertificate:
    """Return the certificate for these hosts, made anew where that is due.

    It is due sixty days before its end, and where it is absent, unreadable, of another authority,
    or for other hosts: nothing of it is installed anywhere, so a new one costs nobody a step.
    """
    try:
        found = read_server_certificate(data=data)
    except CertificateUnreadable:
        found = None
    wanted = tuple(str(general_name(host).value) for host in hosts)
    if (
        found is not None
        and found.hosts == wanted
        and found.until - now > RENEWED_AT
        and _is_by(authority, found.certificate)
    ):
        return found
    key = ec.generate_private_key(ec.SECP256R1())
    certificate = _certify(authority=authority, hosts=hosts, key=key, now=now)
    path = folder_of(data) / _FILE
    keep_secret_file(path, in_pem(certificate, key))
    return ServerCertificate(path=path, certificate=certificate)


def _is_by(authority: Authority, certificate: x509.Certificate) -> bool:
    try:
        certificate.verify_directly_issued_by(authority.certificate)
    except (InvalidSignature, ValueError, TypeError):
        return False
    return True


def _certify(
    *,
    authority: Authority,
    hosts: Sequence[str],
    key: ec.EllipticCurvePrivateKey,
    now: datetime,
) -> x509.Certificate:
    public = key.public_key()
    signer = authority.key.public_key()
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, hosts[0][:64])])
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(authority.certificate.subject)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(min(now + timedelta(days=SERVER_DAYS) - BACKDATED, authority.until))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(key_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.SubjectAlternativeName([general_name(host) for host in hosts]), critical=False
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(signer), critical=False)
        .sign(authority.key, hashes.SHA256())
    )
