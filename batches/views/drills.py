"""Alarm drills: a mock alarm from something that was sent, with a clock and a kept result."""

from __future__ import annotations

import secrets
import time
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from batches.core.errors import NotPossibleNow, NurseryError
from batches.forms.hold import DrillForm
from batches.models import AlarmDrill, Tray
from batches.services.drills import begin_drill, dispatches_to_draw, finish_drill, time_taken
from batches.services.trace import trays_it_became
from batches.services.trail_sums import sums_of_trail
from batches.views import clock
from batches.views.access import for_office
from batches.views.form_page import status_of
from batches.views.trail_asked import asked_of

DRILLS_SHOWN = 50


@for_office
@require_http_methods(["GET", "POST"])
def drills(request: HttpRequest) -> HttpResponse:
    """List the drills with their times; a POST begins one."""
    form = DrillForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            begun = _begin(request, form.cleaned_data["code"].strip())
        except NurseryError as error:
            form.refuse(error)
        else:
            return redirect("batches:drill", begun.pk)
    shown = AlarmDrill.objects.all()[:DRILLS_SHOWN]
    context = {"form": form, "drills": [(drill, time_taken(drill)) for drill in shown]}
    return render(request, "batches/drills/page.html", context, status=status_of(form))


@for_office
@require_http_methods(["GET", "POST"])
def drill(request: HttpRequest, drill_id: UUID) -> HttpResponse:
    """Show a drill: what to find, in walking order; a POST stops its clock."""
    found = get_object_or_404(AlarmDrill, pk=drill_id)
    trays: list[Tray] = []
    if found.finished_at is None:
        asked = asked_of(QueryDict(found.query))
        codes = trays_it_became(trail=asked.trail)
        trays = list(Tray.objects.active().filter(code__in=codes).with_fern().in_walking_order())
    if request.method == "POST":
        try:
            finish_drill(
                drill=found, found=request.POST.getlist("tray"),
                standing=[tray.code for tray in trays], note=request.POST.get("note", ""),
                by=request.user.get_username(), now=clock.now(),
            )  # fmt: skip
        except NurseryError as error:
            messages.error(request, error.message)
        return redirect("batches:drill", drill_id)
    context = {"drill": found, "trays": trays, "taken": time_taken(found)}
    return render(request, "batches/drills/drill.html", context)


def _begin(request: HttpRequest, code: str) -> AlarmDrill:
    """Begin a drill from a code, or for the kin of something sent that is drawn by lot."""
    query = QueryDict(mutable=True)
    begun = time.perf_counter()
    said = ""
    if code:
        query["code"] = code
    else:
        drawn = dispatches_to_draw(today=clock.today())
        if not drawn:
            raise NotPossibleNow(
                "Nothing was sent in the last two years. Name a code to begin from.", field="code"
            )
        query["sent"] = str(secrets.choice(drawn))
        sick = asked_of(query)
        # Its kin is all that came of its lot; without one, of its batch.
        behind = {node.kind: node.code for node in sick.trail.back}
        kin = QueryDict(mutable=True)
        kin["code"] = behind.get("lot") or behind["batch"]
        query, said = kin, f"{sick.title}; its kin is "
    asked = asked_of(query)
    sums = sums_of_trail(trail=asked.trail, trays=trays_it_became(trail=asked.trail))
    return begin_drill(
        traced_from=f"{said}{asked.title}",
        query=asked.query,
        sums=sums,
        traced_ms=round((time.perf_counter() - begun) * 1_000),
        by=request.user.get_username(),
        now=clock.now(),
    )
