"""How do records come in from a folder of CSV files, all or none?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError, CommandParser

from batches.management.nursery_command import NurseryCommand, noted
from batches.management.progress_bar import ProgressBar
from batches.services.copies import copy_before_import
from batches.services.records_io import ImportResult, import_records
from batches.views import clock


class Command(NurseryCommand):
    help = (
        "Store the records of a folder of CSV files, or of a zip of it: all of them, or none and a "
        "list of what is wrong where. What is stored already is left as it is; the same folder may "
        "be imported twice. docs/records.md describes the files."
    )
    example = "manage.py import_records sowing-books/ --dry-run"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("path", type=Path, help="a folder, or a zip file")
        parser.add_argument(
            "--dry-run", action="store_true", help="check everything, store nothing"
        )
        parser.add_argument(
            "--day-first",
            action="store_true",
            help="read dates written like 24/11/2026 as day, month, year",
        )
        parser.add_argument(
            "--progress", action="store_true", help="show how far it is, on no terminal, too"
        )

    def answer(self, **options: Any) -> dict[str, int]:
        """Import, and give the new rows by file; faults go to the error output, one a line."""
        bar = ProgressBar(asked_for=options["progress"])
        try:
            result = import_records(
                path=options["path"],
                now=clock.now(),
                by="import",
                day_first=options["day_first"],
                dry_run=options["dry_run"],
                progress=bar,
                before_storing=lambda: copy_before_import(
                    data=Path(settings.NURSERY_DATA), now=clock.now()
                ),
                note_stored=lambda stored: noted(
                    "records imported", about=options["path"].name, after=stored
                ),
            )
        finally:
            bar.end()
        if result.errors:
            self._refuse(result, json_wanted=options["json"])
        self._result = result
        return result.counts

    def _refuse(self, result: ImportResult, *, json_wanted: bool) -> None:
        for error in result.errors:
            self.stderr.write(str(error))
        if json_wanted:
            errors = [
                {"file": e.file, "line": e.line, "column": e.column, "message": e.message}
                for e in result.errors
            ]
            self.stdout.write(json.dumps({"errors": errors}, ensure_ascii=False, indent=1))
        cells = "1 cell is" if len(result.errors) == 1 else f"{len(result.errors):,} cells are"
        raise CommandError(f"{cells} wrong. Nothing was stored: mend them and import again.")

    def in_words(self, found: dict[str, int]) -> None:
        result = self._result
        for name, count in found.items():
            there = result.already[name]
            if count or there:
                more = f", {there:,} there already" if there else ""
                self.stdout.write(f"{name:<24} {count:>9,} new{more}")
        for name, count in result.derived.items():
            self.stdout.write(f"{name:<24} {count:>9,} more, from trays.csv")
        if result.dry_run:
            self.stdout.write("Everything can be stored. Nothing was: this was a dry run.")
        else:
            self.stdout.write(f"Stored: {sum(found.values()):,} rows.")
