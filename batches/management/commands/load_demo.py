"""How does the demo nursery come into a new data folder?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser
from django.utils import timezone

from batches.management.nursery_command import NurseryCommand
from batches.management.progress_bar import ProgressBar
from batches.services.demo import load_demo
from batches.views import clock


class Command(NurseryCommand):
    help = (
        "Load the demo nursery, Hollowmere Ferns, into a data folder without records, its dates "
        "moved by whole weeks so that it stands in the present week. A folder that holds records "
        "already is left as it is."
    )
    example = "NURSERY_DATA=./trial manage.py load_demo"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--folder",
            type=Path,
            default=Path(settings.BASE_DIR) / "demo_fixtures",
            help="the demo's CSV files (demo_fixtures beside manage.py)",
        )
        parser.add_argument(
            "--progress", action="store_true", help="show how far it is, on no terminal, too"
        )

    def answer(self, *, folder: Path, progress: bool, **_: Any) -> dict[str, Any]:
        """Load, and give the rows by file, the weeks moved and the day it stands on."""
        bar = ProgressBar(asked_for=progress)
        try:
            loaded = load_demo(
                folder=folder,
                now=clock.now(),
                zone=timezone.get_default_timezone(),
                progress=bar,
            )
        finally:
            bar.end()
        return {
            "counts": loaded.counts,
            "weeks": loaded.weeks,
            "reference_day": loaded.reference_day,
            "left_out": loaded.left_out,
        }

    def in_words(self, found: dict[str, Any]) -> None:
        rows = sum(found["counts"].values())
        self.stdout.write(
            f"Hollowmere Ferns is loaded: {rows:,} rows, {found['counts']['trays.csv']} trays, "
            f"as it stands in the week of {found['reference_day']}."
        )
        if found["left_out"]:
            self.stdout.write(
                f"{found['left_out']} rows of later this week were left out: they have not "
                "happened yet."
            )
