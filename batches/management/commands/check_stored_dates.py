"""Do the stored due dates equal the computed ones?"""

from __future__ import annotations

from typing import Any

from batches.management.nursery_command import NurseryCommand
from batches.services import standing


class Command(NurseryCommand):
    help = "Work every tray's stage and due dates out again from its history and compare."
    example = "manage.py check_stored_dates --json"

    def answer(self, **_: Any) -> dict[str, Any]:
        """Count the trays and those that differ."""
        trays, wrong = standing.differing()
        self.wrong = wrong
        return {"trays": trays, "differing": len(wrong)}

    def in_words(self, found: dict[str, Any]) -> None:
        self.stdout.write(f"{found['trays']} trays, {found['differing']} differ.")
        for code in self.wrong[:20]:
            self.stdout.write(f"  {code}")
