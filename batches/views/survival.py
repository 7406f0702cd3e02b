"""Survival: how many plants come through each stage, and what the others were lost to."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches.charts import plants as charts
from batches.core.stages import STAGE_WORDS, Stage
from batches.models import Taxon
from batches.services.survival_groups import GROUPS, GroupRate, losses_by_month, rates_by
from batches.services.survival_rates import survival_rates
from batches.views import clock
from batches.views.access import for_hands

#: bars in one drawing; the table holds them all
MOST_BARS = 24
#: the word in the address for every stage
ALL = "all"


@for_hands
@require_GET
def survival(request: HttpRequest) -> HttpResponse:
    """Show the rates by fern, or parted by lot, medium or house, and the losses by month."""
    today = clock.today()
    code = request.GET.get("fern", "")[:32]
    taxon = Taxon.objects.filter(code=code).first() if code else None
    group = request.GET.get("by", "fern")
    if group not in GROUPS:
        group = "fern"
    if group == "fern":
        rates = tuple(
            GroupRate(
                group=row.taxon.code,
                from_stage=row.from_stage,
                to_stage=row.to_stage,
                estimate=row.estimate,
            )
            for row in survival_rates(on=today, taxon=taxon)
        )
    else:
        rates = rates_by(group=group, on=today, taxon=taxon)
    stages = [stage for stage in Stage if any(rate.from_stage == stage for rate in rates)]
    stage = _stage_asked(request, stages)
    rates = tuple(rate for rate in rates if stage == ALL or rate.from_stage == stage)
    months = losses_by_month(on=today, taxon=taxon)
    context: dict[str, Any] = {
        "taxon": taxon,
        "unknown": code if code and taxon is None else "",
        "ferns": Taxon.objects.filter(batches__trays__isnull=False).distinct(),
        "groups": GROUPS.items(),
        "group": group,
        "group_word": GROUPS[group],
        "stages": [(str(one), STAGE_WORDS[one]) for one in stages],
        "stage": stage,
        "rates": rates,
        "said": _in_a_sentence(rates),
        "bars": charts.survival_bars(rates[:MOST_BARS]) if rates else None,
        "left_out": max(0, len(rates) - MOST_BARS),
        "months": months,
        "causes": _causes(months),
        "lost": sum(month.total for month in months),
        "losses": charts.losses_by_month(months),
    }
    return render(request, "batches/survival/page.html", context)


def _stage_asked(request: HttpRequest, stages: list[Stage]) -> str:
    """Return the stage to show: the one asked for, else pricked out, else the first there is."""
    asked = request.GET.get("stage", "")
    if asked in stages:
        return asked
    if asked == ALL or not stages:
        return ALL
    return str(Stage.PRICKED_OUT if Stage.PRICKED_OUT in stages else stages[0])


def _in_a_sentence(rates: tuple[GroupRate, ...]) -> str:
    """Say which rate is lowest, among those that rest on something."""
    known = [rate for rate in rates if rate.estimate.rate is not None and rate.estimate.trays >= 3]
    if not known:
        return "Too few trays have left a stage yet to compare."
    worst = min(known, key=lambda rate: rate.estimate.rate or 0.0)
    best = max(known, key=lambda rate: rate.estimate.rate or 0.0)
    said = (
        f"Lowest is {worst.label}: {worst.estimate.plants_out:,} of "
        f"{worst.estimate.plants_in:,} plants came through."
    )
    if worst.estimate.high >= (best.estimate.low if best is not worst else 0.0):
        said += " With so few trays it may be chance: the ranges overlap."
    return said


def _causes(months: Any) -> list[tuple[str, list[int], int]]:
    """Return causes with their plants month by month and in all, the costliest first."""
    names = {cause for month in months for cause in month.by_cause}
    rows = [(name, [month.by_cause.get(name, 0) for month in months]) for name in names]
    return sorted(((n, counts, sum(counts)) for n, counts in rows), key=lambda r: (-r[2], r[0]))
