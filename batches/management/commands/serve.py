"""How is the program started?"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import CommandError, CommandParser
from django.core.wsgi import get_wsgi_application
from django.utils import timezone
from hypercorn.config import Sockets

from batches.management.nursery_command import NurseryCommand
from batches.management.served_at import address_of, forget_address, keep_address
from batches.services import people
from batches.services.data_folder import is_new_database, pending_migrations, sole_use
from batches.services.refit_rounds import rounds
from batches.services.serving import (
    ToldToStop,
    own_addresses,
    serve_until_told,
    server_config,
    stop_when_told,
)
from batches.services.static_files import collect_if_changed
from batches.views import clock

LOOPBACK = {"127.0.0.1", "localhost", "[::1]"}


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
            help="listen to the nursery's network, for tablets and other desks",
        )
        parser.add_argument(
            "--http",
            action="store_true",
            help="with --lan: plain http, without certificates (says what it lacks)",
        )

    def answer(
        self, *, port: int | None, host: str | None, lan: bool, http: bool, **_: Any
    ) -> None:
        """Serve until the process is told to stop."""
        if lan and not http:
            raise CommandError(
                "Serving the nursery's network over https is not there yet. "
                "Start with --lan --http: plain http, for a network that you trust."
            )
        address = host or ("0.0.0.0" if lan else "127.0.0.1")  # noqa: S104 - asked for by --lan
        if ":" in address:
            address = f"[{address.strip('[]')}]"
        came = stop_when_told()
        with contextlib.suppress(ToldToStop):  # while it was starting
            self._serve(address, settings.NURSERY_PORT if port is None else port, came)
        self._say("Stopped. Everything that was saved is kept.")

    def in_words(self, found: Any) -> None:
        """Everything was said while serving."""

    def _serve(self, address: str, port: int, came: list[int]) -> None:
        with sole_use(folder=Path(settings.NURSERY_DATA)):
            self._prepare()
            config = server_config(
                bind=[f"{address}:{port}"],
                insecure_bind=[],
                max_body=settings.NURSERY_MAX_BODY,
            )
            sockets = self._open(config)
            taken = sockets.insecure_sockets[0].getsockname()[1]
            called = self._names(address)
            settings.ALLOWED_HOSTS = list(dict.fromkeys([*settings.ALLOWED_HOSTS, *called]))
            application = get_wsgi_application()
            bases = [f"http://{name}:{taken}" for name in called]
            keep_address(bases[0])
            try:
                self._greet(bases, plain=address not in LOOPBACK)
                with rounds(clock=clock.now):
                    serve_until_told(application, config, sockets, came=came)
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
            call_command("backup", str(Path(settings.NURSERY_DATA) / "backups"))
            call_command("migrate", verbosity=0)
        if collect_if_changed():
            self._say("Style sheets, scripts and fonts are in place.")

    def _open(self, config: Any) -> Sockets:
        try:
            sockets: Sockets = config.create_sockets()
            for one in (*sockets.secure_sockets, *sockets.insecure_sockets):
                one.listen(config.backlog)  # whoever reads the address below may come at once
            return sockets
        except OSError as error:
            raise CommandError(
                f"Cannot listen on {config.bind[0]} ({os.strerror(error.errno or 0)}). Nothing "
                "was started. "
                "Another program may have that port: choose one with --port or NURSERY_PORT."
            ) from error

    def _names(self, address: str) -> list[str]:
        if address in {"0.0.0.0", "[::]"}:  # noqa: S104
            return ["127.0.0.1", *own_addresses()]
        return [address]

    def _greet(self, bases: list[str], *, plain: bool) -> None:
        self._say(f"Frondbook is at {bases[0]}/ (stop it with Ctrl-C)")
        for more in bases[1:]:
            self._say(f"  also at {more}/")
        if plain:
            self._say(
                "  Plain http: who can listen to this network can read names and records, and "
                "a tablet must keep "
                "its page open while it is offline."
            )
        if not people.has_anybody_signed_in():
            manager = people.first_manager()
            link = people.make_signin_link(person=manager, now=timezone.now())
            url = address_of("batches:sign-in-link", link.secret)
            self._say(f"Nobody has signed in yet. One-time link for {manager.name}: {url}")
