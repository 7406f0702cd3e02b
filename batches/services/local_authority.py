"""Who vouches for this computer on the nursery's network, where no public authority can?

The program makes a certificate authority of its own, whose certificate is installed once on each
tablet. Its key stays in the data folder, readable by its owner only, and goes into no backup.
Unless the nursery says otherwise the authority is limited: tablets then take its word for private
names and addresses alone, so that a stolen key opens nothing on the internet.
"""

from __future__ import annotations

import os
import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from batches.core.errors import NurseryError
from batches.core.local_names import PRIVATE_DOMAINS, PRIVATE_NETWORKS, address_in, is_private

AUTHORITY_DAYS = 3652
#: from here on a newer certificate for the same key is handed out: tablets take either
AUTHORITY_RENEWED_AT = timedelta(days=730)
#: a tablet's clock may be behind
BACKDATED = timedelta(days=1)
FOLDER = "certificates"
_FILE = "authority.pem"
_CLAIM = "Frondbook authority"


class CertificateUnreadable(NurseryError):
    """A certificate of this nursery, or its key, cannot be read."""

    def __init__(self, path: Path) -> None:
        super().__init__(
            f"{path} cannot be read as a certificate with its key. Nothing was changed. Bring it "
            "back from a copy; or move it away, and a new one is made: a new authority must then "
            "be installed on every tablet."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Authority:
    """The nursery's own authority: its certificate and the key that signs."""

    certificate: x509.Certificate
    key: ec.EllipticCurvePrivateKey

    @property
    def until(self) -> datetime:
        """Until when tablets take its word."""
        return self.certificate.not_valid_after_utc

    @property
    def fingerprint(self) -> str:
        """The SHA-256 of its certificate, as devices show it: AB:CD:…, 32 pairs."""
        return self.certificate.fingerprint(hashes.SHA256()).hex(":").upper()

    @property
    def is_limited(self) -> bool:
        """Whether it vouches for private names and addresses alone."""
        return any(
            isinstance(extension.value, x509.NameConstraints)
            for extension in self.certificate.extensions
        )

    def vouches_for(self, host: str) -> bool:
        """Say whether a tablet would take its word for a name or an address."""
        return is_private(host) if self.is_limited else True

    @property
    def pem(self) -> bytes:
        """The certificate as a file to install; holds no secret."""
        return self.certificate.public_bytes(serialization.Encoding.PEM)


def folder_of(data: Path) -> Path:
    """Return where the certificates of a data folder are."""
    return data / FOLDER


def general_name(host: str) -> x509.GeneralName:
    """Return a name or a numeric address in the form certificates hold."""
    address = address_in(host)
    return x509.DNSName(host.lower()) if address is None else x509.IPAddress(address)


def keep_secret_file(path: Path, content: bytes) -> None:
    """Write a file that only its owner can read, whole or not at all."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = path.with_name(f".{path.name}-{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def in_pem(certificate: x509.Certificate, key: ec.EllipticCurvePrivateKey) -> bytes:
    """Return a certificate and its key as one file's content."""
    return certificate.public_bytes(serialization.Encoding.PEM) + key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def from_pem(path: Path) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey] | None:
    """Return the certificate and the key that a file holds; None where there is no file.

    Raises
    ------
    CertificateUnreadable
        The file holds something else, or a key that is not the certificate's.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    try:
        certificate = x509.load_pem_x509_certificate(content)
        key = serialization.load_pem_private_key(content, password=None)
    except (ValueError, TypeError):
        raise CertificateUnreadable(path) from None
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise CertificateUnreadable(path)
    if key.public_key() != certificate.public_key():
        raise CertificateUnreadable(path)
    return certificate, key


def read_authority(*, data: Path) -> Authority | None:
    """Return the authority of a data folder; None where none was made yet.

    Raises
    ------
    CertificateUnreadable
        Its file holds something else.
    """
    found = from_pem(folder_of(data) / _FILE)
    return None if found is None else Authority(certificate=found[0], key=found[1])


def authority_for_serving(*, data: Path, now: datetime, limited: bool) -> Authority:
    """Return the authority, made where there is none, and renewed for its last two years.

    ``limited`` counts when it is made: what is installed on tablets cannot be changed from here.

    Raises
    ------
    CertificateUnreadable
        Its file holds something else.
    """
    found = read_authority(data=data)
    if found is not None and found.until - now > AUTHORITY_RENEWED_AT:
        return found
    if found is None:
        key = ec.generate_private_key(ec.SECP256R1())
        name = _new_name()
    else:
        key, name, limited = found.key, found.certificate.subject, found.is_limited
    certificate = _certify_itself(key=key, name=name, now=now, limited=limited)
    keep_secret_file(folder_of(data) / _FILE, in_pem(certificate, key))
    return Authority(certificate=certificate, key=key)


def _new_name() -> x509.Name:
    """Return a name that no earlier authority of this program bears on the same tablet."""
    words = f"{_CLAIM} {secrets.token_hex(3)}"
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, words)])


def _certify_itself(
    *, key: ec.EllipticCurvePrivateKey, name: x509.Name, now: datetime, limited: bool
) -> x509.Certificate:
    public = key.public_key()
    builder = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(now + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(key_usage(signs_certificates=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(public), critical=False)
    )
    if limited:
        # RFC 5280, 4.2.1.10, wants it critical. A system that does not know it would then refuse
        # the whole authority; marked so, systems that know it hold to it and others pass over it.
        builder = builder.add_extension(_private_alone(), critical=False)
    return builder.sign(key, hashes.SHA256())


def key_usage(*, signs_certificates: bool) -> x509.KeyUsage:
    """Return what a key may do: sign certificates, or stand for a server."""
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _private_alone() -> x509.NameConstraints:
    names: list[x509.GeneralName] = [x509.DNSName(domain) for domain in PRIVATE_DOMAINS]
    networks: list[x509.GeneralName] = [x509.IPAddress(one) for one in PRIVATE_NETWORKS]
    return x509.NameConstraints(permitted_subtrees=names + networks, excluded_subtrees=None)
