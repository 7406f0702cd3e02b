"""How is https served on the nursery's network: with which certificate, at which addresses?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from batches.core.local_names import address_in
from batches.services.local_authority import Authority, authority_for_serving
from batches.services.server_certificate import ServerCertificate, certificate_for_serving


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkHttps:
    """What https is served with, and the hosts for which the authority does not vouch."""

    authority: Authority
    certificate: ServerCertificate
    left_out: tuple[str, ...]

    def is_newer_than(self, other: NetworkHttps) -> bool:
        """Say whether another certificate is to be served now."""
        mine, theirs = self.certificate.certificate, other.certificate.certificate
        return mine.serial_number != theirs.serial_number


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpsAt:
    """Where this server answers over https: hosts that its certificate holds, and the port.

    ``http_port`` is that of plain http, where a device is set up that does not trust it yet.
    """

    hosts: tuple[str, ...]
    port: int
    http_port: int

    def address_for(self, host: str) -> str:
        """Return the address over https for who came by ``host``; the best one for another."""
        return web_address("https", self._held(host), self.port)

    def plain_address_for(self, host: str) -> str:
        """Return the address over plain http of the same host."""
        return web_address("http", self._held(host), self.http_port)

    def _held(self, host: str) -> str:
        bare = host.lower().removeprefix("[").removesuffix("]")
        return bare if bare in self.hosts else self.hosts[0]


def web_address(scheme: str, host: str, port: int) -> str:
    """Return scheme, host and port as an address without a path."""
    return f"{scheme}://{in_address(host)}:{port}"


def in_address(host: str) -> str:
    """Return a host as addresses hold it: IPv6 stands in brackets."""
    address = address_in(host)
    return f"[{address}]" if address is not None and address.version == 6 else host


def prepare_https(
    *, data: Path, called: tuple[str, ...], limited: bool, now: datetime
) -> NetworkHttps:
    """Return what to serve https with, made or renewed where that is due.

    Raises
    ------
    CertificateUnreadable
        The file of the authority holds something else; its replacement would have to be installed
        on every tablet, so it is not replaced here.
    """
    authority = authority_for_serving(data=data, now=now, limited=limited)
    hosts = tuple(host for host in called if authority.vouches_for(host))
    certificate = certificate_for_serving(data=data, authority=authority, hosts=hosts, now=now)
    left_out = tuple(host for host in called if host not in hosts)
    return NetworkHttps(authority=authority, certificate=certificate, left_out=left_out)
