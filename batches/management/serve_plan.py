"""What is served: at which addresses, on which ports, over https or plain http?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.core.management.base import CommandError
from django.db import close_old_connections
from django.urls import reverse
from django.utils import timezone

from batches.management.served_at import keep_address
from batches.services.lan_names import called_on_the_network
from batches.services.network_https import (
    HttpsAt,
    NetworkHttps,
    in_address,
    prepare_https,
)
from batches.services.server_config import ServerConfig, server_config

LOOPBACK = {"127.0.0.1", "localhost", "::1"}
EVERY_ADDRESS = {"0.0.0.0", "::"}  # noqa: S104 - asked for by --lan
#: from the port of plain http to that of https: 8000 and 8443
HTTPS_PORT_AFTER = 443


@dataclass(frozen=True, slots=True, kw_only=True)
class ServePlan:
    """What is to be served: the address listened to, the ports, and over what."""

    address: str
    port: int
    https_port: int
    lan: bool
    over_https: bool

    def called(self) -> tuple[str, ...]:
        """Name every host by which this server may be called, the best first."""
        everywhere = self.address in EVERY_ADDRESS
        if everywhere or self.lan:
            return called_on_the_network(
                more=tuple(settings.NURSERY_HOSTS), listens_at="" if everywhere else self.address
            )
        return (self.address,)

    def is_plain_on_a_network(self) -> bool:
        """Say whether others on the network can read along."""
        return not self.over_https and (self.lan or self.address not in LOOPBACK)

    def config(self, https: NetworkHttps | None) -> ServerConfig:
        """Return the settings of the server, with the certificate where it speaks https."""
        over_http = f"{in_address(self.address)}:{self.port}"
        if https is None:
            return server_config(
                bind=[over_http], insecure_bind=[], max_body=settings.NURSERY_MAX_BODY
            )
        return server_config(
            bind=[f"{in_address(self.address)}:{self.https_port}"],
            insecure_bind=[over_http],
            max_body=settings.NURSERY_MAX_BODY,
            certificate=https.certificate.path,
        )


def serve_plan(
    *, host: str | None, port: int | None, https_port: int | None, lan: bool, http: bool
) -> ServePlan:
    """Return what the options of the command ask for, the machine's settings behind them."""
    everywhere = "0.0.0.0" if lan else "127.0.0.1"  # noqa: S104 - asked for by --lan
    taken = settings.NURSERY_PORT if port is None else port
    if https_port is None:
        beside = taken + HTTPS_PORT_AFTER if taken else 0
        https_port = settings.NURSERY_HTTPS_PORT or beside
    return ServePlan(
        address=(host or everywhere).removeprefix("[").removesuffix("]"),
        port=taken,
        https_port=https_port,
        lan=lan,
        over_https=lan and not http,
    )


def allow_hosts(called: tuple[str, ...]) -> None:
    """Let requests in that name one of these hosts."""
    named = [in_address(host) for host in called]
    settings.ALLOWED_HOSTS = list(dict.fromkeys([*settings.ALLOWED_HOSTS, *named]))


def https_for(called: tuple[str, ...], *, now: datetime) -> NetworkHttps:
    """Return what https is served with, made or renewed where that is due.

    Raises
    ------
    CommandError
        The certificate cannot be kept; what is there was not changed.
    """
    try:
        return prepare_https(
            data=Path(settings.NURSERY_DATA),
            called=called,
            limited=settings.NURSERY_LIMITED_AUTHORITY,
            now=now,
        )
    except OSError as error:
        raise CommandError(
            f"The certificate for https cannot be kept in {settings.NURSERY_DATA} "
            f"({error.strerror}). What is there was not changed. Make room, or give this account "
            "the right to write there."
        ) from error


def switch_to_https(https: NetworkHttps, *, port: int, http_port: int) -> HttpsAt:
    """Give the site its https profile, and say where it answers now."""
    for name, value in settings.NURSERY_HTTPS_PROFILE.items():
        setattr(settings, name, value)
    at = HttpsAt(hosts=https.certificate.hosts, port=port, http_port=http_port)
    settings.NURSERY_HTTPS_AT = at
    keep_address(at.address_for(at.hosts[0]), setup=setup_page(at))
    return at


def setup_page(at: HttpsAt) -> str:
    """Return the address over plain http at which a new device is set up."""
    return at.plain_address_for(at.hosts[0]) + reverse("batches:setup")


class Renewal:
    """Asked now and then while https is served: is there a new certificate to serve with?"""

    def __init__(self, plan: ServePlan, https: NetworkHttps, *, port: int, http_port: int) -> None:
        self.plan = plan
        self.https = https
        self.port = port
        self.http_port = http_port

    def __call__(self) -> bool:
        """Renew where that is due; the network may also have given this computer a new address."""
        close_old_connections()
        called = self.plan.called()
        newest = https_for(called, now=timezone.now())
        if not newest.is_newer_than(self.https):
            return False
        self.https = newest
        allow_hosts(called)
        switch_to_https(newest, port=self.port, http_port=self.http_port)
        return True
