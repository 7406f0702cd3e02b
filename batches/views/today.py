"""Today: what is due, what is late and why, and “looked, nothing new” right there."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from http import HTTPStatus
from pathlib import Path
from urllib.parse import urlencode
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from batches.core.errors import NurseryError
from batches.models import Person, Tray, TrayCheck
from batches.services.cares import give_care
from batches.services.checks import record_check
from batches.services.due_entries import DueEntry, due_entries, lines_of
from batches.services.outlooks import load_outlooks
from batches.services.overdue import KINDS, overdue_lines_of
from batches.services.planned_sowings import sowings_ahead
from batches.services.safekeeping import alarms
from batches.services.strikes import strike_out
from batches.services.this_week import NAMED, weeks_work
from batches.services.today import by_bench, morning_note
from batches.services.work_shares import give_line, people_to_give_to, shares_of_day
from batches.views import clock
from batches.views.access import Access, access_of, for_hands, for_office, person_of
from batches.views.first_steps import shown_steps
from batches.views.http import HtmxRequest
from batches.views.shut_door import warn_of_shut
from batches.views.striking import require_own

LINES_A_PAGE = 60
#: bench by bench, so that few benches are parted
LINES_OF_BENCHES_A_PAGE = 240
KIND_WORDS = {
    "look": "looks",
    "stage": "late in a stage",
    "decision": "decisions",
    "lot": "lots",
    "picking": "pickings",
    "care": "care",
    "return": "go back to",
    "sori": "sori",
}


#: what the address of Today may ask for; a form on it comes back to the same view
ASKED = ("by", "kind", "mine", "page", "work")


@for_hands
@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """Show the morning note and the lines, by lateness or bench by bench."""
    day, now = clock.today(), clock.now()
    lines = due_entries(on=day, now=now)
    kind = request.GET.get("kind", "")
    shown: Sequence[DueEntry] = lines.of_kind(kind) if kind in KINDS else lines
    shares = shares_of_day(on=day)
    mine = request.GET.get("mine") == "yes"
    own = {key for key, whose in shares.items() if whose == request.user.get_username()}
    if mine:
        shown = [line for line in shown if line.key in own]
    by_benches = request.GET.get("by") == "bench"
    if by_benches:
        shown = [line for group in by_bench(shown) for line in group.lines]
    a_page = LINES_OF_BENCHES_A_PAGE if by_benches else LINES_A_PAGE
    page = Paginator(shown, a_page).get_page(request.GET.get("page"))
    whole = lines_of(entries=list(page), on=day)
    context = {
        "alarms": _alarms(request, now),
        "note": morning_note(kinds=lines.kinds, today=day, now=now),
        "page": page,
        "lines": whole,
        "benches": by_bench(whole) if by_benches else (),
        "by_bench": by_benches,
        "kind": kind,
        "kinds": [(name, KIND_WORDS[name], lines.kinds[name]) for name in KINDS],
        "today": day,
        "all": len(lines),
        "mine": mine,
        "view": _view(request),
        "shares": shares,
        "people": people_to_give_to() if access_of(request) >= Access.OFFICE else [],
        "week": weeks_work(
            today=day,
            keys=own if mine else None,
            named=None if request.GET.get("work") == "all" else NAMED,
        ),
        "sowings": sowings_ahead(today=day),
        "first_steps": shown_steps(request),
        "nursery_is_empty": not lines and not Tray.objects.exists(),
    }
    return render(request, "batches/today/page.html", context)


def _alarms(request: HttpRequest, now: datetime) -> tuple[str, ...]:
    """Return what is amiss with copies and computer; nothing for people who cannot mend it."""
    if access_of(request) < Access.MANAGER:
        return ()
    return alarms(data=Path(settings.NURSERY_DATA), now=now)


@for_hands
@require_POST
def nothing_new(request: HtmxRequest, code: str) -> HttpResponse:
    """Log “looked, nothing new” for a tray right from its line."""
    tray = get_object_or_404(Tray.objects.with_fern(), code=code)
    now = clock.now()
    try:
        result = record_check(
            tray=tray,
            seen_at=None,
            now=now,
            by=request.user.get_username(),
            person=person_of(request),
            record_id=_uuid(request.POST.get("record_id", "")),
        )
    except NurseryError as error:
        if not request.htmx:
            messages.error(request, error.message)
            return _back(request)
        return render(
            request, "batches/today/_line_refused.html", {"error": error.message, "tray": tray},
            status=HTTPStatus.UNPROCESSABLE_ENTITY,
        )  # fmt: skip
    if not request.htmx:
        warn_of_shut(request, tray, at=result.check.seen_at)
        messages.success(request, f"Tray {tray.code}: looked, nothing new.")
        return _back(request)
    tray.refresh_from_db()
    warn_of_shut(request, tray, at=result.check.seen_at)
    context = {
        "tray": tray, "check": result.check, "today": clock.today(), "view": _view(request),
    }  # fmt: skip
    return render(request, "batches/today/_line_done.html", context)


@for_hands
@require_POST
def care_given(request: HttpRequest, code: str, care: str) -> HttpResponse:
    """Note that a care that was due was given."""
    tray = get_object_or_404(Tray, code=code)
    by = request.user.get_username()
    try:
        give_care(tray=tray, care=care, on=clock.today(), by=by, now=clock.now())
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"Tray {code}: noted as done.")
    return _back(request)


@for_hands
@require_POST
def undo_look(request: HtmxRequest, check_id: UUID) -> HttpResponse:
    """Strike out a look logged from Today a moment ago; its line comes back in its place."""
    check = get_object_or_404(TrayCheck.objects.select_related("tray"), pk=check_id)
    require_own(request, check)
    try:
        strike_out(row=check, by=request.user.get_username(), now=clock.now())
    except NurseryError as error:
        if request.htmx:
            context = {"error": error.message, "tray": check.tray}
            return render(request, "batches/today/_line_refused.html", context)
        messages.error(request, error.message)
        return _back(request)
    words = f"The look at tray {check.tray.code} was struck out."
    if not request.htmx:
        messages.success(request, words)
        return _back(request)
    return _line_again(request, check.tray.code, words)


def _line_again(request: HttpRequest, code: str, words: str) -> HttpResponse:
    """Show the tray's line as it stood before a look; a word where no look was due."""
    tray = Tray.objects.with_fern().get(code=code)
    day = clock.today()
    outlooks = load_outlooks([tray.batch.taxon_id])
    lines = overdue_lines_of(tray=tray, on=day, outlooks=outlooks)
    line = next((line for line in lines if line.kind == "look"), None)
    if line is None:
        context: dict[str, object] = {"error": words, "tray": tray}
        return render(request, "batches/today/_line_refused.html", context)
    context = {
        "line": line, "today": day, "shares": shares_of_day(on=day), "view": _view(request),
    }  # fmt: skip
    return render(request, "batches/today/_line.html", context)


@for_office
@require_POST
def give(request: HttpRequest) -> HttpResponse:
    """Give lines of today's work to a person, or take them back."""
    person = Person.objects.filter(is_active=True, pk=request.POST.get("person") or 0).first()
    lines = request.POST.getlist("line")[:500]
    try:
        for line in lines:
            give_line(line=line, on=clock.today(), person=person, by=request.user.get_username())
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        many = f"{len(lines)} line{'s' if len(lines) != 1 else ''}"
        whose = f"given to {person}" if person is not None else "given to nobody"
        messages.success(request, f"{many} {whose}.")
    return _back(request)


def _view(request: HttpRequest) -> str:
    """Return what the address asks Today for, “?by=bench&kind=look”; empty for all by lateness."""
    asked = {name: request.GET[name][:20] for name in ASKED if request.GET.get(name)}
    return f"?{urlencode(asked)}" if asked else ""


def _back(request: HttpRequest) -> HttpResponse:
    return redirect(reverse("batches:today") + _view(request))


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
