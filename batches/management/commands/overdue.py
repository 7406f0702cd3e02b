"""What is due and late on a day, as a list for people or as JSON?"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.management.base import CommandParser

from batches.management.nursery_command import NurseryCommand
from batches.management.reading import day
from batches.services.overdue import DueLine, overdue_lines
from batches.views import clock


class Command(NurseryCommand):
    help = (
        "List what is due and what is late on a day, the latest against its time first, with the "
        "reason of each line."
    )
    example = "manage.py overdue --on 2026-11-25 --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--on", type=day, help="a day such as 2026-11-25; without it, today")

    def answer(self, *, on: date | None, **_: Any) -> list[dict[str, Any]]:
        """Ask for the lines of the day."""
        today = clock.today()
        wanted = on or today
        now = clock.now() if wanted == today else None
        return [_as_json(line) for line in overdue_lines(on=wanted, today=today, now=now)]

    def in_words(self, found: list[dict[str, Any]]) -> None:
        for line in found:
            what = line["tray"] or line["lot"] or line["bench"] or ""
            late = f"{line['days_late']} d late" if line["days_late"] else "due"
            self.stdout.write(f"{what:<20} {line['kind']:<9} {late:<12} {line['reason']}")
        self.stdout.write(f"{len(found)} lines.")


def _as_json(line: DueLine) -> dict[str, Any]:
    return {
        "tray": line.tray,
        "lot": line.lot,
        "taxon": line.taxon,
        "bench": line.bench,
        "kind": line.kind,
        "stage": line.stage,
        "due_on": line.due_on,
        "days_late": line.days_late,
        "lateness": round(line.lateness, 4),
        "reason": line.reason,
    }
