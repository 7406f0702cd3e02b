"""How is a backup put in place, or tried out?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser
from django.utils import timezone

from batches.management.nursery_command import NurseryCommand
from batches.services import restore


class Command(NurseryCommand):
    help = (
        "Put a backup in the place of the records. It asks nothing: the old records are set aside "
        "in the data folder. With --drill it only tries the backup out."
    )
    example = "manage.py restore --drill /media/stick/frondbook/frondbook-20260610-180000.zip"
    # Records too damaged to be opened are just what a backup is for.
    needs_tables = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="the backup")
        parser.add_argument(
            "--drill", action="store_true", help="check all of it, and leave the records alone"
        )

    def answer(self, *, file: Path, drill: bool, **_: Any) -> dict[str, Any]:
        """Restore: the backup's file, that file's SHA-256, the rows of each kind."""
        if drill:
            found = restore.drill(file=file)
        else:
            found = restore.restore(
                file=file,
                data=Path(settings.NURSERY_DATA),
                photos=Path(settings.MEDIA_ROOT),
                now=timezone.localtime(timezone.now()),
            )
        self.drilled, self.set_aside = drill, found.set_aside
        return {"file": found.file, "sha256": found.sha256, "rows": found.rows}

    def in_words(self, found: dict[str, Any]) -> None:
        rows = sum(found["rows"].values())
        if self.drilled:
            self.stdout.write(f"{found['file']} is whole: {rows} rows. The records are untouched.")
            return
        self.stdout.write(f"Restored {rows} rows from {found['file']}.")
        if self.set_aside is not None:
            self.stdout.write(f"What was there before is in {self.set_aside}.")
        self.stdout.write("Tablets will offer what they sent since that backup was made.")
