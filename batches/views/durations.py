"""Durations: how long each fern takes from stage to stage here."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from batches.charts import stage_times as charts
from batches.core.errors import NurseryError
from batches.core.stages import ROUTE_WORDS, STAGE_WORDS, Route, Stage
from batches.models import Taxon
from batches.services.stage_time_lines import (
    TimesLine,
    adopt_days,
    in_one_sentence,
    times_lines,
)
from batches.views import clock
from batches.views.access import Access, access_of, for_hands, for_managers
from batches.views.noting import note

#: the word in the address for every stage
ALL = "all"


@for_hands
@require_GET
def durations(request: HttpRequest) -> HttpResponse:
    """Show every fern's times of one stage; with a fern, all its stages with their curves."""
    code = request.GET.get("fern", "")[:32]
    taxon = Taxon.objects.filter(code=code).first() if code else None
    lines = times_lines(on=clock.today(), taxon=taxon)
    stages = [stage for stage in Stage if any(line.times.stage == stage for line in lines)]
    stage = _stage_asked(request, stages, one_fern=taxon is not None)
    shown = [line for line in lines if stage == ALL or line.times.stage == stage]
    context: dict[str, Any] = {
        "taxon": taxon,
        "unknown": code if code and taxon is None else "",
        "lines": shown,
        "ferns": Taxon.objects.filter(batches__trays__isnull=False).distinct(),
        "stages": [(str(one), STAGE_WORDS[one]) for one in stages],
        "stage": stage,
        "said": _said(lines),
        "curves": _curves(shown) if taxon else [],
        "ranges": None if taxon else _ranges(shown),
        "off_ferns": list(dict.fromkeys(line.times.taxon for line in lines if line.adopt)),
        "may_adopt": access_of(request) >= Access.MANAGER,
        "off": [line for line in lines if line.adopt],
    }
    return render(request, "batches/durations/page.html", context)


def _stage_asked(request: HttpRequest, stages: list[Stage], *, one_fern: bool) -> str:
    """Return the stage to show: the one asked for, else all of one fern, else the first stage."""
    asked = request.GET.get("stage", "")
    if asked in stages:
        return asked
    return ALL if one_fern or asked == ALL or not stages else str(stages[0])


@for_managers
@require_POST
def durations_adopt(request: HttpRequest, code: str, route: str, stage: str) -> HttpResponse:
    """Make what this nursery's trays took a fern's own days."""
    taxon = get_object_or_404(Taxon, code=code)
    if route not in set(Route) or stage not in set(Stage):
        raise Http404("There is no such stage.")
    try:
        with transaction.atomic():
            own = adopt_days(taxon=taxon, route=Route(route), stage=Stage(stage), on=clock.today())
            note(
                request,
                "own days adopted",
                about=f"{taxon.code} {route} {stage}",
                after=[own.early, own.usual, own.late],
            )
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(
            request,
            f"{taxon.code}, {STAGE_WORDS[Stage(stage)]}: {own.early:g}, {own.usual:g} and "
            f"{own.late:g} days are its own days now. Its due dates follow within a minute.",
        )
    return redirect(f"{reverse('batches:durations')}?fern={taxon.code}")


def _said(lines: tuple[TimesLine, ...]) -> list[tuple[Taxon, str]]:
    """Return one sentence a fern."""
    by_fern: dict[Taxon, list[TimesLine]] = {}
    for line in lines:
        by_fern.setdefault(line.times.taxon, []).append(line)
    return [(fern, in_one_sentence(some)) for fern, some in by_fern.items()]


def _curves(lines: list[TimesLine]) -> list[dict[str, Any]]:
    return [
        {
            "line": line,
            "id": f"curve-{line.times.route}-{line.times.stage}",
            "label": (
                f"Share of trays moved on from {STAGE_WORDS[line.times.stage]} by each day, raised "
                f"from {ROUTE_WORDS[line.times.route]}; the numbers stand in the tables"
            ),
            "figure": charts.stage_curve(line.times),
        }
        for line in lines
    ]


def _ranges(lines: list[TimesLine]) -> dict[str, Any] | None:
    """Return the drawing of one stage, ferns side by side: the one with most ferns."""
    by_stage: dict[tuple[str, str], list[TimesLine]] = {}
    for line in lines:
        by_stage.setdefault((line.times.route, line.times.stage), []).append(line)
    if not by_stage:
        return None
    some = max(by_stage.values(), key=len)
    return {"lines": some, "first": some[0].times, "figure": charts.stage_ranges(some)}
