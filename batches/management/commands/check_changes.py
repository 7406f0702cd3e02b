"""Is the chain of noted changes whole, and do the records hold what a copy holds?"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser
from django.db import connection

from batches.management.nursery_command import NurseryCommand
from batches.models.guards import missing_guards
from batches.services.change_notes import chain_check
from batches.services.copy_comparison import compared_with_copy


class Command(NurseryCommand):
    help = (
        "Work every seal of the noted changes out again, see that the guards of looks and counts "
        "are there, and with --copy compare every look, passage, count, place and note of a "
        "backup with what is here. Exit status 1 where anything differs."
    )
    example = "manage.py check_changes --copy /media/stick/frondbook/frondbook-20260610-180000.zip"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--copy", type=Path, help="a backup of this nursery to compare with")

    def answer(self, *, copy: Path | None, **_: Any) -> dict[str, Any]:
        """Give the number of notes, the last seal, and what is wrong."""
        found = asdict(chain_check())
        found["faults"] += tuple(
            f"Rows of {table} can be changed or deleted: its guard is gone."
            for table in missing_guards(connection)
        )
        if copy is not None:
            found["compared"] = asdict(compared_with_copy(file=copy))
        self._differs = bool(found["faults"] or found.get("compared", {}).get("faults"))
        return found

    def handle(self, *args: Any, **options: Any) -> None:
        """Answer; what differs is no success, in JSON neither."""
        super().handle(*args, **options)
        if self._differs:
            raise SystemExit(1)

    def in_words(self, found: dict[str, Any]) -> None:
        compared = found.get("compared", {"rows": 0, "faults": ()})
        faults = [*found["faults"], *compared["faults"]]
        if faults:
            raise CommandError("\n".join(faults))
        self.stdout.write(f"{found['notes']} changes noted, every seal right. Last seal: "
                          f"{found['head'] or 'none yet'}")  # fmt: skip
        if "compared" in found:
            self.stdout.write(f"{compared['rows']} rows of the copy are here, unchanged.")
