"""How long does each fern take from stage to stage here?"""

from __future__ import annotations

import math
from datetime import date
from typing import Any

from django.core.management.base import CommandParser

from batches.management.named import fern_named
from batches.management.nursery_command import NurseryCommand
from batches.management.reading import day
from batches.services.stage_times import StageTimes, stage_times
from batches.views import clock


class Command(NurseryCommand):
    help = "List how long each fern takes from stage to stage here, by what was seen until a day."
    example = "manage.py durations --taxon OSMREG --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--taxon", metavar="CODE", help="only this fern")
        parser.add_argument("--on", type=day, help="a day such as 2026-11-25; without it, today")

    def answer(self, *, taxon: str | None, on: date | None, **_: Any) -> list[dict[str, Any]]:
        """Estimate from the rows that were there by the end of the day."""
        fern = fern_named(taxon) if taxon else None
        return [_as_json(row) for row in stage_times(on=on or clock.today(), taxon=fern)]

    def in_words(self, found: list[dict[str, Any]]) -> None:
        for row in found:
            self.stdout.write(
                f"{row['taxon']:<12} {row['stage']:<12} -> {row['next_stage']:<12} "
                f"{row['trays']:>4} trays, expected {row['expected_days']:.0f}, late after "
                f"{row['late_after_days']:.0f} days ({row['basis']})"
            )
        self.stdout.write(f"{len(found)} lines.")


def _as_json(row: StageTimes) -> dict[str, Any]:
    estimate = row.estimate
    return {
        "taxon": row.taxon.code,
        "route": row.route,
        "stage": row.stage,
        "next_stage": row.next_stage,
        "trays": estimate.trays,
        "seen": estimate.seen,
        "still_waiting": estimate.still_waiting,
        "lost": estimate.lost,
        "expected_days": estimate.expected_days,
        "late_after_days": estimate.late_after_days,
        "stalled_share": estimate.stalled_share,
        "median_low": _finite(estimate.median_low),
        "median_high": _finite(estimate.median_high),
        "basis": estimate.basis,
        "curve": [
            {"after_days": one.after, "by_days": _finite(one.by), "share": one.share}
            for one in estimate.curve
        ],
    }


def _finite(value: float | None) -> float | None:
    """Return a number that JSON knows; None for an end that lies open."""
    return None if value is None or math.isinf(value) else value
