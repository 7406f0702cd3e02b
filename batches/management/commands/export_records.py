"""How are all records written out as plain CSV files?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from batches.management.nursery_command import NurseryCommand, noted
from batches.services.records_io import export_records, records_page
from batches.views import clock


class Command(NurseryCommand):
    help = (
        "Write all records as CSV files with a datapackage.json that describes every column: into "
        "a folder, or into a zip where the path ends in .zip. docs/records.md describes the files."
    )
    example = "manage.py export_records records-2026-11-25.zip"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, nargs="?", help="a folder, or a path ending in .zip")
        parser.add_argument(
            "--describe",
            action="store_true",
            help="write nothing, print the description of the format (docs/records.md)",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the description where that was asked for, else export."""
        if options["describe"]:
            self.stdout.write(records_page(), ending="")
            return
        if options["path"] is None:
            raise CommandError("Name a folder, or a path ending in .zip.")
        super().handle(*args, **options)

    def answer(self, **options: Any) -> dict[str, int]:
        """Export, and give the rows by file."""
        self._path: Path = options["path"]
        counts = export_records(path=self._path, now=clock.now())
        noted("records exported", about=self._path.name)
        return counts

    def in_words(self, found: dict[str, int]) -> None:
        for name, count in found.items():
            self.stdout.write(f"{name:<24} {count:>9,}")
        self.stdout.write(f"Written to {self._path}: {sum(found.values()):,} rows.")
