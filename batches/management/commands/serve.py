"""How is the program started?"""

from __future__ import annotations

import contextlib
import os
import threading
from importlib import import_module
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError, CommandParser
from django.core.wsgi import get_wsgi_application
from django.utils import timezone
from hypercorn.config import Sockets

from batches.labels.terminal_qr import qr_in_terminal
from batches.management.nursery_command import NurseryCommand
from batches.management.serve_plan import (
    HTTPS_PORT_AFTER,
    Renewal,
    ServePlan,
    allow_hosts,
    https_for,
    serve_plan,
    setup_page,
    switch_to_https,
)
from batches.management.served_at import address_of, forget_address, keep_address
from batches.services import people, upkeep_rounds
from batches.services.copies import BEFORE_UPDATE, copy_before
from batches.services.data_folder import is_new_database, pending_migrations, sole_use
from batches.services.lan_names import own_names
from batches.services.network_https import NetworkHttps, web_address
from batches.services.refit_rounds import rounds
from batches.services.server_config import ServerConfig
from batches.services.serving import ToldToStop, serve_until_told, stop_when_told
from batches.services.static_files import collect_if_changed
from batches.views import clock

#: seconds after which the pages' modules are loaded, where nobody asked for a page before
PAGES_AFTER_S = 0.5


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
        plan = serve_plan(host=host, port=port, https_port=https_port, lan=lan, http=http)
        came = stop_when_told()
        with contextlib.suppress(ToldToStop):  # while it was starting
            self._serve(plan, came)
        self._say("Stopped. Everything that was saved is kept.")

    def in_words(self, found: Any) -> None:
        """Everything was said while serving."""

    def _serve(self, plan: ServePlan, came: list[int]) -> None:
        with sole_use(folder=Path(settings.NURSERY_DATA)):
            self._prepare()
            called = plan.called()
            https = https_for(called, now=timezone.now()) if plan.over_https else None
            config = plan.config(https)
            sockets = self._open(config)
            http_port = _port(sockets.insecure_sockets)
            allow_hosts(called)
            renewal = None
            try:
                if https is None:
                    bases = [web_address("http", host, http_port) for host in called]
                    keep_address(bases[0])
                else:
                    https_port = _port(sockets.secure_sockets)
                    at = switch_to_https(https, port=https_port, http_port=http_port)
                    bases = [at.address_for(host) for host in at.hosts]
                    renewal = Renewal(plan, https, port=https_port, http_port=http_port)
                application = get_wsgi_application()
                self._greet(bases)
                if https is not None:
                    self._say_of_https(https, setup_page(at))
                elif plan.is_plain_on_a_network():
                    self._say_what_http_lacks()
                self._offer_first_link()
                # It answers that it is there first; whoever asks for a page sooner waits for that.
                pages = threading.Timer(PAGES_AFTER_S, _load_pages)
                pages.daemon = True
                pages.start()
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

    def _say_of_https(self, https: NetworkHttps, setup: str) -> None:
        """Say how a tablet comes to trust this computer, with a symbol for its camera."""
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
            "its page open while it is offline. With --lan alone it is served over https."
        )

    def _offer_first_link(self) -> None:
        if not people.has_anybody_signed_in():
            manager = people.first_manager()
            link = people.make_signin_link(person=manager, now=timezone.now())
            url = address_of("batches:sign-in-link", link.secret)
            self._say(f"Nobody has signed in yet. One-time link for {manager.name}: {url}")


def _load_pages() -> None:
    """Load every page's module, before somebody asks for the first."""
    import_module("batches.urls")


def _places() -> upkeep_rounds.Places:
    return upkeep_rounds.Places(
        data=Path(settings.NURSERY_DATA),
        photos=Path(settings.MEDIA_ROOT),
        stick_roots=tuple(settings.NURSERY_STICK_FOLDERS),
    )


def _port(sockets: list[Any]) -> int:
    taken: int = sockets[0].getsockname()[1]
    return taken
