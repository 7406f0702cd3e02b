"""Is everything in order on this machine?"""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils import timezone

from batches.management.nursery_command import NurseryCommand
from batches.services.checkup import findings


class Command(NurseryCommand):
    help = "Look the machine and the records over, and say what to do where something is amiss."
    example = "manage.py doctor"
    # A database that cannot be opened is one of the things it finds.
    needs_tables = False

    def answer(self, **_: Any) -> list[dict[str, Any]]:
        """List what was looked at, whether it is well, and what to do."""
        found = findings(
            data=Path(settings.NURSERY_DATA),
            photos=Path(settings.MEDIA_ROOT),
            now=timezone.localtime(timezone.now()),
        )
        return [asdict(finding) for finding in found]

    def in_words(self, found: list[dict[str, Any]]) -> None:
        for finding in found:
            word = "amiss" if not finding["ok"] else "note " if finding["advice"] else "well "
            self.stdout.write(f"{word}  {finding['check']}")
            if finding["advice"]:
                self.stdout.write(f"       {finding['advice']}")
