"""How many plants of each fern come through each stage here?"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.management.base import CommandParser

from batches.management.named import fern_named
from batches.management.nursery_command import NurseryCommand
from batches.management.reading import day
from batches.services.survival_rates import StageSurvival, survival_rates
from batches.views import clock


class Command(NurseryCommand):
    help = "List how many plants come through each stage, over trays that have left it."
    example = "manage.py survival --taxon DRYFIL --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--taxon", metavar="CODE", help="only this fern")
        parser.add_argument("--on", type=day, help="a day such as 2026-11-25; without it, today")

    def answer(self, *, taxon: str | None, on: date | None, **_: Any) -> list[dict[str, Any]]:
        """Count what had left each stage by the end of the day."""
        fern = fern_named(taxon) if taxon else None
        return [_as_json(row) for row in survival_rates(on=on or clock.today(), taxon=fern)]

    def in_words(self, found: list[dict[str, Any]]) -> None:
        for row in found:
            rate = "–" if row["rate"] is None else f"{row['rate']:.2f}"
            self.stdout.write(
                f"{row['taxon']:<12} {row['from_stage']:<12} -> {row['to_stage']:<12} {rate} "
                f"({row['low']:.2f} to {row['high']:.2f}): {row['basis']}"
            )
        self.stdout.write(f"{len(found)} lines.")


def _as_json(row: StageSurvival) -> dict[str, Any]:
    estimate = row.estimate
    return {
        "taxon": row.taxon.code,
        "from_stage": row.from_stage,
        "to_stage": row.to_stage,
        "trays": estimate.trays,
        "plants_in": estimate.plants_in,
        "plants_out": estimate.plants_out,
        "rate": estimate.rate,
        "low": estimate.low,
        "high": estimate.high,
        "expected_rate": estimate.expected_rate,
        "basis": estimate.basis,
    }
