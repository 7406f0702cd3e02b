"""Sowing plan: how many trays of a fern, and when at the latest?"""

from __future__ import annotations

from datetime import date
from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from batches.charts import pots as charts
from batches.core.errors import NurseryError
from batches.forms.sowing_plan import SowingPlanForm
from batches.models import PlannedSowing
from batches.services.days import day_words
from batches.services.planned_sowings import drop_plan, plan_a_sowing
from batches.services.sowing_needs import MIXING_LOSS, sowing_needs
from batches.services.sowing_planner import SowingPlan, plan_for
from batches.views import clock
from batches.views.access import for_office


@for_office
@require_http_methods(["GET", "POST"])
def sowing_plan(request: HttpRequest) -> HttpResponse:
    """Answer the question in the address; a POST puts the answer on the list of sowings."""
    today = clock.today()
    asked = request.POST if request.method == "POST" else request.GET
    form = SowingPlanForm(asked if asked.get("fern") or asked.get("pots") else None, today=today)
    plan = None
    if form.is_bound and form.is_valid():
        try:
            plan = _plan(form, today)
        except NurseryError as error:
            form.refuse(error)
    if request.method == "POST" and plan is not None and _put_on_the_list(request, plan):
        return redirect("batches:sow")
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/sowing_plan/page.html", _context(form, plan), status=status)


@for_office
@require_POST
def sowing_drop(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a planned sowing off the list."""
    if drop_plan(plan_id=pk, today=clock.today()):
        messages.success(request, "The sowing is off the list.")
    else:
        messages.info(request, "That sowing was sown, or off the list already.")
    return redirect("batches:sow")


def _plan(form: SowingPlanForm, today: date) -> SowingPlan:
    found = form.cleaned_data
    return plan_for(
        taxon=found["fern"], pots=found["pots"], by=found["by"], on=today, chance=form.sure
    )


def _put_on_the_list(request: HttpRequest, plan: SowingPlan) -> bool:
    try:
        sow_on = date.fromisoformat(request.POST.get("sow_on", ""))
    except ValueError:
        messages.error(request, "Which day it is sown was not understood. Nothing was stored.")
        return False
    try:
        made: PlannedSowing = plan_a_sowing(
            plan=plan, sow_on=sow_on, by=request.user.get_username(), now=clock.now()
        )
    except NurseryError as error:
        messages.error(request, error.message)
        return False
    messages.success(
        request,
        f"{made.trays} tray{'s' if made.trays != 1 else ''} of {plan.taxon.code} to be sown on "
        f"{day_words(made.sow_on)}. Today says so from two weeks before, until it is done.",
    )
    return True


def _context(form: SowingPlanForm, plan: SowingPlan | None) -> dict[str, Any]:
    context: dict[str, Any] = {"form": form, "plan": plan}
    if plan is None:
        return context
    rows = [(day, row) for day, row in plan.table]
    context["rows"] = rows
    known = [(day.isoformat(), row.trays) for day, row in rows if row.trays is not None]
    if len(known) > 1:
        context["figure"] = charts.trays_needed(
            [day for day, _ in known], [trays for _, trays in known]
        )
    if plan.trays is not None and plan.sow_by is not None:
        context["needs"] = sowing_needs(taxon=plan.taxon, trays=plan.trays, sow_on=plan.sow_by)
        context["mixing_loss"] = MIXING_LOSS
    return context
