"""What do the failing trays have in common?"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.core.management.base import CommandParser

from batches.core.causes import CauseLine
from batches.management.nursery_command import NurseryCommand
from batches.management.reading import day
from batches.services.failing_trays import FACTORS, what_trays_share
from batches.views import clock

DAYS = 90


class Command(NurseryCommand):
    help = (
        "Rank what trays share that first showed a trouble, or lost plants to a cause, since a day "
        f"({DAYS} days ago, when none is named)."
    )
    example = "manage.py shared_causes --sign mould --since 2026-09-01 --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--sign", default="mould", help="a trouble or a cause of loss")
        parser.add_argument("--since", type=day, help="a day such as 2026-09-01")

    def answer(self, *, sign: str, since: date | None, **_: Any) -> list[dict[str, Any]]:
        """Compare the affected trays with those that were looked at and are well."""
        today = clock.today()
        asked = what_trays_share(sign=sign, since=since or today - timedelta(days=DAYS), on=today)
        self.sentence = asked.found.sentence
        return [_as_json(line) for line in asked.found.lines if line.affected]

    def in_words(self, found: list[dict[str, Any]]) -> None:
        self.stdout.write(self.sentence)
        for line in found[:20]:
            self.stdout.write(
                f"{FACTORS[line['factor']]} {line['value']}: {line['affected']} of {line['of']}, "
                f"elsewhere {line['others_affected']} of {line['of_others']}, p {line['p']:.3f}"
            )


def _as_json(line: CauseLine) -> dict[str, Any]:
    return {
        "factor": line.factor,
        "value": line.value,
        "affected": line.affected,
        "of": line.of,
        "others_affected": line.others_affected,
        "of_others": line.of_others,
        "p": line.p,
        "cannot_be_told_apart": [
            {"factor": factor, "value": value} for factor, value in line.cannot_be_told_apart
        ],
    }
