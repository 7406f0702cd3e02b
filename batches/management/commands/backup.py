"""How is everything copied to one file, while work goes on?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser
from django.utils import timezone

from batches.management.nursery_command import NurseryCommand, noted
from batches.services.backup import make_backup


class Command(NurseryCommand):
    help = "Copy all records and photos to a new file in a folder, and read it again to be sure."
    example = "manage.py backup /media/stick/frondbook"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="where the file goes; made where needed")

    def answer(self, *, folder: Path, **_: Any) -> dict[str, Any]:
        """Make the backup: its file, that file's SHA-256, the rows of each kind."""
        made = make_backup(
            folder=folder,
            photos=Path(settings.MEDIA_ROOT),
            now=timezone.localtime(timezone.now()),
        )
        noted("copy made", about=made.file.name, after={"sha256": made.sha256})
        return {"file": made.file, "sha256": made.sha256, "rows": made.rows}

    def in_words(self, found: dict[str, Any]) -> None:
        rows = sum(found["rows"].values())
        self.stdout.write(
            f"{found['file']}\n{rows} rows, read again and whole. SHA-256 {found['sha256']}\n"
            "Whoever finds this file can read it: keep the stick where you keep the keys."
        )
