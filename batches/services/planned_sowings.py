"""Which sowings are planned and not sown yet?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import F

from batches.core.errors import NotPossibleNow, OutOfTime
from batches.models import PlannedSowing, SporeLot
from batches.services.days import day_words, week_words
from batches.services.sowing_planner import SowingPlan

#: Today names a planned sowing from so many days before its day on
DAYS_BEFORE = 14


def plan_a_sowing(*, plan: SowingPlan, sow_on: date, by: str, now: datetime) -> PlannedSowing:
    """Put a sowing on the list, to be sown on a day; the same one twice is kept once.

    Raises
    ------
    NotPossibleNow
        When the plan cannot be met.
    OutOfTime
        When the day is over, or later than the plan's latest.
    """
    if plan.trays is None or plan.sow_by is None:
        raise NotPossibleNow(f"{plan.reason} Nothing was put on the list.")
    if not plan.on <= sow_on <= plan.sow_by:
        raise OutOfTime(
            f"Sow between {day_words(plan.on)} and {day_words(plan.sow_by)}: later, "
            f"{plan.trays} trays are too few. Nothing was put on the list.",
            field="sow_on",
        )
    why = f"{plan.pots:,} pots by {day_words(plan.by)}, chance {plan.asked_chance:.0%}"
    found, _ = PlannedSowing.objects.get_or_create(
        taxon=plan.taxon,
        trays=plan.trays,
        sow_on=sow_on,
        why=why,
        batch=None,
        dropped_on=None,
        defaults={"planned_by": by, "planned_at": now},
    )
    return found


def drop_plan(*, plan_id: int, today: date) -> bool:
    """Take a planned sowing off the list; False when it is sown or off it already."""
    return bool(
        PlannedSowing.objects.filter(
            pk=plan_id, batch__isnull=True, dropped_on__isnull=True
        ).update(dropped_on=today)
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SowingLine:
    """A planned sowing with the lots of its fern that are in store, the first to go first."""

    plan: PlannedSowing
    lots: tuple[SporeLot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SowingWeek:
    """The sowings of one ISO week, by their day; ``week`` reads “2026-W48”."""

    week: str
    monday: date
    lines: tuple[SowingLine, ...]
    trays: int


def sowings_by_week() -> tuple[SowingWeek, ...]:
    """Return every sowing that is planned and not sown, week by week; two queries."""
    plans = PlannedSowing.objects.filter(batch__isnull=True, dropped_on__isnull=True)
    plans = plans.select_related("taxon").order_by("sow_on", "pk")
    lots: defaultdict[int, list[SporeLot]] = defaultdict(list)
    in_store = SporeLot.objects.in_store().filter(taxon__in=plans.order_by().values("taxon"))
    for lot in in_store.order_by(F("sow_by").asc(nulls_last=True), "collected_on", "code"):
        lots[lot.taxon_id].append(lot)
    weeks: defaultdict[date, list[SowingLine]] = defaultdict(list)
    for plan in plans:
        monday = plan.sow_on - timedelta(days=plan.sow_on.weekday())
        weeks[monday].append(SowingLine(plan=plan, lots=tuple(lots[plan.taxon_id])))
    return tuple(
        SowingWeek(
            week=week_words(monday),
            monday=monday,
            lines=tuple(lines),
            trays=sum(line.plan.trays for line in lines),
        )
        for monday, lines in sorted(weeks.items())
    )


def sowings_ahead(*, today: date) -> tuple[PlannedSowing, ...]:
    """Return planned sowings whose day is near or over, by their day; one query."""
    return tuple(
        PlannedSowing.objects.filter(
            batch__isnull=True, dropped_on__isnull=True,
            sow_on__lte=today + timedelta(days=DAYS_BEFORE),
        ).select_related("taxon")
    )  # fmt: skip
