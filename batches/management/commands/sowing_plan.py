"""What must be sown, and when at the latest, for so many pots by a day?"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.management.base import CommandParser

from batches.management.named import fern_named
from batches.management.nursery_command import NurseryCommand
from batches.management.reading import chance as a_chance
from batches.management.reading import day, whole_number
from batches.services.forecasting import SEED
from batches.services.sowing_planner import SowingPlan, plan_for
from batches.views import clock


class Command(NurseryCommand):
    help = (
        "Say the fewest trays of a fern, and the latest day to sow them, that give so many ready "
        "pots by a day with a chance."
    )
    example = "manage.py sowing_plan --taxon DRYFIL --pots 500 --by 2028-05-01 --chance 0.9 --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--taxon", required=True, metavar="CODE")
        parser.add_argument("--pots", required=True, type=whole_number(1, 1_000_000))
        parser.add_argument("--by", required=True, type=day, help="the day they are wanted on")
        parser.add_argument("--chance", type=a_chance, default=0.9)
        parser.add_argument("--on", type=day, help="plan as of this day; without it, today")
        parser.add_argument("--seed", type=int, default=SEED, help="same seed, same answer")

    def answer(
        self,
        *,
        taxon: str,
        pots: int,
        by: date,
        chance: float,
        on: date | None,
        seed: int,
        **_: Any,
    ) -> dict[str, Any]:
        """Plan from what was seen by the end of the day."""
        plan = plan_for(
            taxon=fern_named(taxon),
            pots=pots,
            by=by,
            on=on or clock.today(),
            chance=chance,
            seed=seed,
        )
        return _as_json(plan)

    def in_words(self, found: dict[str, Any]) -> None:
        self.stdout.write(found["reason"])
        if found["sow_by"]:
            self.stdout.write(f"Sow {found['trays']} trays by {found['sow_by']}.")
        for row in found["table"]:
            self.stdout.write(f"  sown {row['sow_on']}: {row['trays'] or 'cannot be met'}")


def _as_json(plan: SowingPlan) -> dict[str, Any]:
    return {
        "taxon": plan.taxon.code,
        "trays": plan.trays,
        "sow_by": plan.sow_by,
        "chance": plan.chance,
        "expected_pots": plan.expected_pots,
        "reason": plan.reason,
        "table": [
            {"sow_on": sow_on, "trays": row.trays, "chance": row.chance}
            for sow_on, row in plan.table
        ],
    }
