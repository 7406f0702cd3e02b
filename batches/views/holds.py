"""Held trays: hold what a trail leads to, see what is held, let it go with a reason."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.hold import HoldForm, LiftForm
from batches.services.holds import (
    alarms,
    alarms_over,
    hold_trays,
    lift_alarm,
    trays_of_alarm,
    who_may_lift,
)
from batches.services.trace import trays_it_became
from batches.services.trail_words import words_of_trail
from batches.views import clock
from batches.views.access import Access, access_of, for_hands, for_managers
from batches.views.form_page import form_page, status_of
from batches.views.trail_asked import Asked, asked_by

CAUTION = (
    "For a notifiable pest or disease, stop all movement and tell the plant-health authority "
    "first; its rules decide."
)


@for_hands
@require_GET
def holds(request: HttpRequest) -> HttpResponse:
    """List what is held, and what was held once."""
    context = {"alarms": alarms(), "over": alarms_over(), "ask": who_may_lift()}
    return render(request, "batches/holds/page.html", context)


@for_hands
@require_http_methods(["GET", "POST"])
def hold_new(request: HttpRequest) -> HttpResponse:
    """Show which trays a trail leads to; a POST holds those that stand."""
    asked = asked_by(request)
    if not isinstance(asked, Asked):
        messages.error(request, asked.message)
        return redirect("batches:trace-start")
    codes = trays_it_became(trail=asked.trail)
    form = HoldForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            result = hold_trays(
                codes=codes,
                reason=form.cleaned_data["reason"],
                traced_from=asked.title,
                by=request.user.get_username(),
                now=clock.now(),
                record_id=form.cleaned_data["record_id"],
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, result.message)
            return redirect("batches:hold", result.alarm)
    words = words_of_trail(trail=asked.trail)
    stations = [words.start, *words.back, *words.forward]
    standing = [one for one in stations if one.code in codes and one.glyph != "ended"]
    if not standing and not form.is_bound:
        messages.warning(request, "None of its trays stands any more: there is nothing to hold.")
        return redirect(f"{reverse('batches:trace-start')}?{asked.query}")
    lots = [one.code for one in stations if one.kind == "lot" and one not in words.back]
    return form_page(
        request,
        form,
        title=f"Hold what {asked.title} led to",
        submit=f"Hold {len(standing)} tray{'s' if len(standing) != 1 else ''}",
        crumbs=[("Trace", f"{reverse('batches:trace-start')}?{asked.query}"), ("Hold", "")],
        lead="Held trays are looked at and tended as ever. Nothing of them leaves.",
        cautions=[CAUTION],
        template="batches/holds/new.html",
        stations=standing,
        behind=[one for one in words.back if one.url_name],
        lots=lots,
        ended=len(codes) - len(standing),
    )


@for_hands
@require_GET
def hold(request: HttpRequest, alarm_id: UUID) -> HttpResponse:
    """Show one alarm: its trays in walking order, and who let which of them go."""
    return _page(request, alarm_id, LiftForm())


@for_managers
@require_POST
def hold_lift(request: HttpRequest, alarm_id: UUID) -> HttpResponse:
    """Let trays of an alarm go: those that are ticked, or all."""
    form = LiftForm(request.POST)
    codes = None if request.POST.get("which") == "all" else request.POST.getlist("tray")
    if codes is not None and not codes:
        form.add_error(None, "Tick the trays that are let go, or let all go.")
    if form.is_valid():
        try:
            freed = lift_alarm(
                alarm=alarm_id, reason=form.cleaned_data["reason"],
                by=request.user.get_username(), now=clock.now(), codes=codes,
            )  # fmt: skip
        except NurseryError as error:
            form.refuse(error)
        else:
            many = f"{freed} tray{'s are' if freed != 1 else ' is'}"
            messages.success(request, f"{many} let go. Holds and reasons stay on record.")
            return redirect("batches:hold", alarm_id)
    return _page(request, alarm_id, form)


def _page(request: HttpRequest, alarm_id: UUID, form: LiftForm) -> HttpResponse:
    rows = trays_of_alarm(alarm=alarm_id)
    if not rows:
        raise Http404("No such hold is on record.")
    held = [row for row in rows if not hasattr(row, "struck_by")]
    context = {
        "first": min(rows, key=lambda row: row.recorded_at),
        "held": held,
        "freed": [row for row in rows if hasattr(row, "struck_by")],
        "form": form,
        "ask": who_may_lift(),
        "may_lift": access_of(request) >= Access.MANAGER,
    }
    return render(request, "batches/holds/alarm.html", context, status=status_of(form))
