"""What do all commands have in common?

Each has a worked example in its help, `--json` where it answers something, errors in plain words
with exit status 1, and works on a new data folder at once.
"""

from __future__ import annotations

import json
from argparse import RawDescriptionHelpFormatter
from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any, ClassVar
from uuid import UUID

from django.core.management import call_command
from django.core.management.base import (
    BaseCommand,
    CommandError,
    CommandParser,
    DjangoHelpFormatter,
)
from django.db import OperationalError, ProgrammingError
from django.utils import timezone

from batches.core.errors import NurseryError
from batches.services.change_notes import note_change
from batches.services.data_folder import is_new_database, pending_migrations


class ExampleFormatter(RawDescriptionHelpFormatter, DjangoHelpFormatter):
    """Keeps the line breaks of the worked example."""


def as_json(value: Any) -> Any:
    """Give dates, numbers and paths the form in which they stand in JSON (dates as ISO 8601)."""
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, timedelta):
        return value.total_seconds()
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, (Path, UUID)):
        return str(value)
    raise TypeError(f"{type(value).__name__} has no JSON form here")


def noted(what: str, *, about: str = "", after: Any = None) -> None:
    """Note what a command changed, gave out or kept, for whoever reads the changes later."""
    note_change(what=what, now=timezone.now(), device="command", about=about, after=after)


class NurseryCommand(BaseCommand):
    """A command of this program; `answer` does the work and `in_words` prints it for people."""

    example: ClassVar[str] = ""
    needs_tables: ClassVar[bool] = True
    has_json: ClassVar[bool] = True
    requires_system_checks: tuple[str, ...] = ()

    #: does the work with the options by name, and gives what `--json` prints
    answer: Callable[..., Any]

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Give the parser, with the worked example under its options."""
        kwargs.setdefault("formatter_class", ExampleFormatter)
        if self.example:
            kwargs.setdefault("epilog", f"Example:\n  {self.example}")
        parser = super().create_parser(prog_name, subcommand, **kwargs)
        if self.has_json:
            parser.add_argument(
                "--json", action="store_true", help="print one JSON document and nothing else"
            )
        return parser

    def in_words(self, found: Any) -> None:
        """Print what `answer` gave, for people."""
        raise NotImplementedError

    def handle(self, *args: Any, **options: Any) -> None:
        """Answer, and print the answer in the form that was asked for."""
        if self.needs_tables and is_new_database():
            call_command("migrate", verbosity=0)
        try:
            found = self.answer(**options)
        except NurseryError as error:
            raise CommandError(error.message) from error
        except (OperationalError, ProgrammingError) as error:
            if not pending_migrations():
                raise
            raise CommandError(
                "The records are in the form of an older program. Nothing was changed. Start the "
                "server once (manage.py serve): it makes a backup and brings them up to date."
            ) from error
        if options.get("json"):
            self.stdout.write(json.dumps(found, default=as_json, ensure_ascii=False, indent=1))
        else:
            self.in_words(found)
