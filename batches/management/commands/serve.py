"""How is the program started?"""

from __future__ import annotations

import contextlib
import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError, CommandParser
from django.core.wsgi import get_wsgi_application
from django.db import close_old_connections
from django.utils import timezone
from hypercorn.config import Sockets

from batches.labels.terminal_qr import qr_in_terminal
from batches.management.nursery_command import NurseryCommand
from batches.management.served_at import address_of, forget_address, keep_address
from batches.services import people, upkeep_rounds
from batches.services.copies import BEFORE_UPDATE, copy_before
from batches.services.data_folder import is_new_database, pending_migrations, sole_use
from batches.services.lan_names import called_on_the_network, own_names
from batches.services.network_https import (
    HttpsAt,
    NetworkHttps,
    in_address,
    prepare_https,
    web_address,
)
from batches.services.refit_rounds import rounds
from batches.services.server_config import ServerConfig, server_config
from batches.services.serving import ToldToStop, serve_until_told, stop_when_told
from batches.services.static_files import collect_if_changed
from batches.views import clock

LOOPBACK = {"127.0.0.1", "localhost", "::1"}
EVERY_ADDRESS = {"0.0.0.0", "::"}  # noqa: S104 - asked for by --lan
#: from the port of plain http to that of https: 8000 and 8443
HTTPS_PORT_AFTER = 443


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What is to be served: the address listened to, the ports, and over what."""

    address: str
    port: int
    https_port: int
    lan: bool
    over_https: bool


class Command(NurseryCommand):
    help = "Start the server: in the foreground, as one process, until it is told to stop (Ctrl-C)."
    example = "manage.py serve --port 8080"
    has_json = False
    needs_tables = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--port",
            type=int,
            help=f"port to listen on (now {settings.NURSERY_PORT}); 0 takes a free one",
        )
        parser.add_argument(
            "--host", help="address to listen on (without it, this machine alone: 127.0.0.1)"
        )
        parser.add_argument(
            "--lan",
            action="store_true",
            help=(
                "listen to the nursery's network, for tablets and other desks: over https, with a "
                "certificate of this nursery's own; plain http leads there"
            ),
        )
        parser.add_argument(
            "--https-port",
            type=int,
            help=f"port for https (without it, {HTTPS_PORT_AFTER} more than --port)",
        )
        parser.add_argument(
            "--http",
            action="store_true",
            help="with --lan: plain http, without certificates (says what it lacks)",
        )

    def answer(
        self,
        *,
        port: int | None,
        host: str | None,
        lan: bool,
        https_port: int | None,
        http: bool,
        **_: Any,
    ) -> None:
        """Serve until the process is told to stop."""
        everywhere = "0.0.0.0" if lan else "127.0.0.1"  # noqa: S104 - asked for by --lan
        port = settings.NURSERY_PORT if port is None else port
        plan = Plan(
            address=(host or everywhere).removeprefix("[").removesuffix("]"),
            port=port,
            https_port=_https_port(asked=https_port, port=port),
            lan=lan,
            over_https=lan and not http,
        )
        came = stop_when_told()
        with contextlib.suppress(ToldToStop):  # while it was starting
            self._serve(plan, came)
        self._say("Stopped. Everything that was saved is kept.")

    def in_words(self, found: Any) -> None:
        """Everything was said while serving."""

    def _serve(self, plan: Plan, came: list[int]) -> None:
        with sole_use(folder=Path(settings.NURSERY_DATA)):
            self._prepare()
            called = _called(plan)
            https = _https(called, now=timezone.now()) if plan.over_https else None
            config = _config(plan, https)
            sockets = self._open(config)
            http_port = _port(sockets.insecure_sockets)
            _allow(called)
            renewal = None
            if https is None:
                bases = [web_address("http", host, http_port) for host in called]
            else:
                https_port = _port(sockets.secure_sockets)
                bases = _switch_to_https(https, https_port)
                renewal = Renewal(plan, https, https_port)
            application = get_wsgi_application()
            keep_address(bases[0])
            try:
                self._greet(bases)
                if https is not None:
                    self._say_of_https(https, http_port)
                elif plan.lan or plan.address not in LOOPBACK:
                    self._say_what_http_lacks()
                self._offer_first_link()
                with (
                    rounds(clock=clock.now),
                    upkeep_rounds.rounds(places=_places(), clock=clock.now),
                ):
                    serve_until_told(application, config, sockets, came=came, renewed=renewal)
            finally:
                forget_address()

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()

    def _prepare(self) -> None:
        if is_new_database():
            call_command("migrate", verbosity=0)
        elif pending := pending_migrations():
            self._say(f"The program is newer than its records: {len(pending)} change(s) to make.")
            kept = copy_before(
                deed=BEFORE_UPDATE, data=Path(settings.NURSERY_DATA), now=timezone.now()
            )
            self._say(f"The records as they were are kept in {kept}.")
            call_command("migrate", verbosity=0)
        if collect_if_changed():
            self._say("Style sheets, scripts and fonts are in place.")

    def _open(self, config: ServerConfig) -> Sockets:
        try:
            sockets: Sockets = config.create_sockets()
            for one in (*sockets.secure_sockets, *sockets.insecure_sockets):
                one.listen(config.backlog)  # whoever reads the address below may come at once
            return sockets
        except OSError as error:
            raise CommandError(
                f"Cannot listen on {' and '.join([*config.bind, *config.insecure_bind])} "
                f"({os.strerror(error.errno or 0)}). Nothing was started. "
                "Another program may have that port: choose one with --port or NURSERY_PORT"
                + (", --https-port or NURSERY_HTTPS_PORT." if config.insecure_bind else ".")
            ) from error

    def _greet(self, bases: list[str]) -> None:
        self._say(f"Frondbook is at {bases[0]}/ (stop it with Ctrl-C)")
        for more in bases[1:]:
            self._say(f"  also at {more}/")

    def _say_of_https(self, https: NetworkHttps, http_port: int) -> None:
        """Say how a tablet comes to trust this computer, with a symbol for its camera."""
        setup = f"{web_address('http', https.certificate.hosts[0], http_port)}/setup/"
        self._say(f"  Each new tablet or desk opens {setup} once, and compares the fingerprint:")
        pairs = https.authority.fingerprint.split(":")
        for first in range(0, len(pairs), 8):
            self._say(f"    {' '.join(pairs[first : first + 8])}")
        symbol = qr_in_terminal(setup)
        with contextlib.suppress(UnicodeEncodeError):  # a terminal without block drawings
            symbol.encode(getattr(self.stdout, "encoding", None) or "utf-8")
            self._say(symbol)
        self._say(f"  The certificate holds until {https.certificate.until:%Y-%m-%d}.")
        if chosen := [host for host in https.left_out if host not in own_names()]:
            self._say(
                f"  Not over https: {', '.join(chosen)}. The nursery's authority vouches "
                "for names of private networks alone, like fernery.home.arpa."
            )

    def _say_what_http_lacks(self) -> None:
        self._say(
            "  Plain http: who can listen to this network can read names and records, and "
            "a tablet must keep "
            "its page open while it is offline. Without --http it is served over https."
        )

    def _offer_first_link(self) -> None:
        if not people.has_anybody_signed_in():
            manager = people.first_manager()
            link = people.make_signin_link(person=manager, now=timezone.now())
            url = address_of("batches:sign-in-link", link.secret)
            self._say(f"Nobody has signed in yet. One-time link for {manager.name}: {url}")


class Renewal:
    """Asked now and then while https is served: is there a new certificate to serve with?"""

    def __init__(self, plan: Plan, https: NetworkHttps, port: int) -> None:
        self.plan = plan
        self.https = https
        self.port = port

    def __call__(self) -> bool:
        """Renew where that is due; the network may also have given this computer a new address."""
        close_old_connections()
        called = _called(self.plan)
        newest = _https(called, now=timezone.now())
        if not newest.is_newer_than(self.https):
            return False
        self.https = newest
        _allow(called)
        _switch_to_https(newest, self.port)
        return True


def _https_port(*, asked: int | None, port: int) -> int:
    if asked is not None:
        return asked
    if settings.NURSERY_HTTPS_PORT:
        return int(settings.NURSERY_HTTPS_PORT)
    return port + HTTPS_PORT_AFTER if port else 0


def _places() -> upkeep_rounds.Places:
    return upkeep_rounds.Places(
        data=Path(settings.NURSERY_DATA),
        photos=Path(settings.MEDIA_ROOT),
        stick_roots=tuple(settings.NURSERY_STICK_FOLDERS),
    )


def _called(plan: Plan) -> tuple[str, ...]:
    """Name every host by which this server may be called, the best first."""
    everywhere = plan.address in EVERY_ADDRESS
    if everywhere or plan.lan:
        return called_on_the_network(
            more=tuple(settings.NURSERY_HOSTS), listens_at="" if everywhere else plan.address
        )
    return (plan.address,)


def _allow(called: tuple[str, ...]) -> None:
    """Let requests in that name one of these hosts."""
    named = [in_address(host) for host in called]
    settings.ALLOWED_HOSTS = list(dict.fromkeys([*settings.ALLOWED_HOSTS, *named]))


def _https(called: tuple[str, ...], *, now: datetime) -> NetworkHttps:
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


def _config(plan: Plan, https: NetworkHttps | None) -> ServerConfig:
    over_http = f"{in_address(plan.address)}:{plan.port}"
    if https is None:
        return server_config(bind=[over_http], insecure_bind=[], max_body=settings.NURSERY_MAX_BODY)
    return server_config(
        bind=[f"{in_address(plan.address)}:{plan.https_port}"],
        insecure_bind=[over_http],
        max_body=settings.NURSERY_MAX_BODY,
        certificate=https.certificate.path,
    )


def _switch_to_https(https: NetworkHttps, port: int) -> list[str]:
    """Give the site its https profile, and every address at which it answers."""
    for name, value in settings.NURSERY_HTTPS_PROFILE.items():
        setattr(settings, name, value)
    settings.NURSERY_HTTPS_AT = HttpsAt(hosts=https.certificate.hosts, port=port)
    return [web_address("https", host, port) for host in https.certificate.hosts]


def _port(sockets: list[Any]) -> int:
    taken: int = sockets[0].getsockname()[1]
    return taken
