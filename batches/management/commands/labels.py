"""Which labels should be printed into which file?"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser

from batches.core.errors import NurseryError
from batches.labels import print_labels
from batches.labels.from_records import batch_named, tray_labels, trays_of
from batches.labels.own_stocks import stock_called
from batches.management.nursery_command import NurseryCommand
from batches.services.label_log import note_printed
from batches.services.own_settings import own_setting
from batches.views import clock


class Command(NurseryCommand):
    help = "Print labels of trays, or of a whole batch, into a PDF and note them as printed."
    _notes: tuple[str, ...] = ()
    example = "manage.py labels --stock a4-24 --batch 26W14-073-F --start-at 5 --output labels.pdf"

    def add_arguments(self, parser: CommandParser) -> None:
        which = parser.add_mutually_exclusive_group(required=True)
        which.add_argument(
            "--tray", nargs="+", action="extend", metavar="CODE", help="codes of trays"
        )
        which.add_argument(
            "--batch", nargs="+", action="extend", metavar="CODE", help="all standing trays of it"
        )
        parser.add_argument("--stock", required=True, help="label stock, such as a4-24")
        parser.add_argument("--copies", type=int, default=1, help="copies of each label")
        parser.add_argument("--start-at", type=int, default=1, help="first free label of a sheet")
        parser.add_argument("--output", type=Path, required=True, metavar="FILE.pdf")

    def answer(
        self,
        *,
        tray: list[str] | None,
        batch: list[str] | None,
        stock: str,
        copies: int,
        start_at: int,
        output: Path,
        **_: Any,
    ) -> dict[str, Any]:
        """Print them and write the print into the log."""
        codes = _codes(tray or (), batch or ())
        address = own_setting("label_address") or f"http://127.0.0.1:{settings.NURSERY_PORT}"
        paper = stock_called(stock)
        labelled = tray_labels(codes=codes, address=address)
        result = print_labels(
            labelled.rows,
            paper,
            copies=copies,
            start_at=start_at,
            output=output.absolute(),
        )
        note_printed(
            codes=labelled.codes,
            kind="tray",
            stock=stock,
            labels=result.labels,
            by="command line",
            now=clock.now(),
        )
        self._notes = result.notes
        return {"labels": result.labels, "sheets": result.sheets, "seconds": result.seconds}

    def in_words(self, found: dict[str, Any]) -> None:
        self.stdout.write(
            f"{found['labels']} labels on {found['sheets']} sheets in {found['seconds']:.2f} s."
        )
        for note in self._notes:
            self.stdout.write(f"{note}.")


def _codes(trays: Sequence[str], batches: Sequence[str]) -> list[str]:
    """Return the codes named, and those of the batches' trays, each once."""
    codes = list(trays)
    for name in batches:
        batch = batch_named(name)
        found = trays_of(batch=batch)
        if not found:
            raise NurseryError(
                f"Batch {batch.code} has no standing trays; there is nothing to print."
            )
        codes += found
    return list(dict.fromkeys(codes))
