"""What will be ready here, and when?"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.management.base import CommandParser

from batches.core.forecast import DRAWS
from batches.management.nursery_command import NurseryCommand
from batches.management.reading import day, whole_number
from batches.services.days import week_words
from batches.services.forecasting import SEED, NurseryForecast, forecast_nursery
from batches.views import clock

MOST_WEEKS = 260


class Command(NurseryCommand):
    help = (
        "Say how many pots of each fern become ready in the weeks after a day: low, likely and "
        "high, week by week and added up."
    )
    example = "manage.py forecast --on 2026-11-25 --weeks 26 --json"

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--on", type=day, help="a day such as 2026-11-25; without it, today")
        parser.add_argument("--weeks", type=whole_number(1, MOST_WEEKS), default=26)
        parser.add_argument("--draws", type=whole_number(20, 20_000), default=DRAWS)
        parser.add_argument("--seed", type=int, default=SEED, help="same seed, same answer")

    def answer(
        self, *, on: date | None, weeks: int, draws: int, seed: int, **_: Any
    ) -> list[dict[str, Any]]:
        """Draw from what was seen by the end of the day."""
        found = forecast_nursery(on=on or clock.today(), weeks=weeks, draws=draws, seed=seed)
        return _as_json(found)

    def in_words(self, found: list[dict[str, Any]]) -> None:
        for row in found:
            if row["p90"]:
                self.stdout.write(
                    f"{row['taxon']:<12} {row['week']}  low {row['p10']:.0f}, likely "
                    f"{row['p50']:.0f}, high {row['p90']:.0f}; in all by then "
                    f"{row['cumulative_p10']:.0f} to {row['cumulative_p90']:.0f}"
                )
        self.stdout.write(f"{len(found)} fern-weeks.")


def _as_json(found: NurseryForecast) -> list[dict[str, Any]]:
    rows = []
    for taxon, drawn in found.ferns.items():
        bands = zip(drawn.weekly(), drawn.cumulative(), strict=True)
        for number, (weekly, cumulative) in enumerate(bands, start=1):
            rows.append(
                {
                    "taxon": taxon.code,
                    "week": week_words(found.last_day(number)),
                    "p10": weekly.low,
                    "p50": weekly.likely,
                    "p90": weekly.high,
                    "cumulative_p10": cumulative.low,
                    "cumulative_p50": cumulative.likely,
                    "cumulative_p90": cumulative.high,
                }
            )
    return rows
