"""A tray's page: its story, and the look that is logged there."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from http import HTTPStatus
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.look import LookForm
from batches.models import CheckPhoto, Place, PlantMovement, StageTransition, Tray, TrayCheck
from batches.services.checks import record_check
from batches.services.codes import find_code
from batches.services.green_line import green_line
from batches.services.green_share import reckon_photo
from batches.services.holds import holds_of
from batches.services.outlooks import load_outlooks
from batches.services.overdue import overdue_lines_of
from batches.services.photos import keep_photo, small_copy
from batches.services.picking_rules import DEED_WORDS, deeds_open_to
from batches.services.shut_places import shut_places
from batches.services.strays import why_suspected
from batches.services.strike_rights import may_strike
from batches.services.strikes import strike_out
from batches.services.timeline import time_line
from batches.services.tray_life import what_became_of
from batches.services.tray_page import LogEntry, story_of
from batches.services.yields import yields_of
from batches.views import clock
from batches.views.access import for_hands, for_tablets, person_of
from batches.views.shut_door import warn_of_shut
from batches.views.striking import require_own

#: what the log shows at first; a life of two years has a hundred entries
LOG_ENTRIES = 12
_TABLES: dict[str, Any] = {
    "check": TrayCheck,
    "movement": PlantMovement,
    "transition": StageTransition,
    "place": Place,
}


@for_hands
@require_http_methods(["GET", "POST"])
def tray(request: HttpRequest, code: str) -> HttpResponse:
    """Show a tray; a POST logs a look at it."""
    found = Tray.objects.with_fern().filter(code=code).first()
    if found is None:
        return redirect("batches:tray-short", code)
    form = LookForm(request.POST or None, request.FILES or None, tray=found)
    if request.method == "POST" and form.is_valid() and _log(request, found, form):
        return _after_the_look(request, form.cleaned_data["record_id"])
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/tray/page.html", _context(request, found, form), status=status)


def _after_the_look(request: HttpRequest, record_id: UUID) -> HttpResponse:
    """Go to the next excepted tray of a bench that is looked over, else show the undo bar here."""
    then = [code for code in request.GET.get("then", "").split(",") if code]
    bench = request.GET.get("bench", "")
    if not bench:
        return redirect(f"{request.path}?logged={record_id}")
    if not then:
        return redirect("batches:look-over", bench)
    rest = urlencode({"then": ",".join(then[1:]), "bench": bench})
    return redirect(f"{reverse('batches:tray', args=[then[0]])}?{rest}#look")


def _log(request: HttpRequest, found: Tray, form: LookForm) -> bool:
    """Store the look; an error goes onto the form with what was typed kept."""
    now = clock.now()
    try:
        result = record_check(
            tray=found,
            now=now,
            by=request.user.get_username(),
            person=person_of(request),
            **form.deed(),
        )
    except NurseryError as error:
        form.add_error(error.field if error.field in form.fields else None, error.message)
        return False
    messages.success(request, result.message)
    warn_of_shut(request, found, at=result.check.seen_at)
    photo = form.cleaned_data.get("photo")
    if photo is not None:
        try:
            folder = Path(settings.MEDIA_ROOT)
            kept = keep_photo(
                check=result.check, data=photo.read(), folder=folder, now=now,
                photo_id=result.check.pk,
            )  # fmt: skip
            reckon_photo(photo=kept, folder=folder)
        except NurseryError as error:
            messages.error(request, error.message)
    return True


def _context(request: HttpRequest, found: Tray, form: LookForm) -> dict[str, object]:
    today, now = clock.today(), clock.now()
    story = story_of(tray=found, today=today)
    outlooks = load_outlooks([found.batch.taxon_id])
    whole_log = request.GET.get("log") == "all"
    return {
        "tray": found,
        "form": form,
        "story": story,
        "log": _with_rights(request, story.log if whole_log else story.log[:LOG_ENTRIES], now),
        "whole_log": whole_log,
        "line": time_line(tray=found, story=story, today=today),
        "green": green_line(tray=found, today=today),
        "lines": overdue_lines_of(tray=found, on=today, outlooks=outlooks),
        "shut": shut_places(on=today, now=now).of(found),
        "holds": holds_of(tray=found),
        "became": "" if found.is_active else what_became_of(found),
        "laid_out": found.laid_out.not_filled(),
        "deeds": [(_deed_address(deed, found), DEED_WORDS[deed]) for deed in deeds_open_to(found)],
        "yields": yields_of(tray=found),
        "suspicions": why_suspected(tray=found),
        "today": today,
        "logged": _logged(request, found),
        "query": request.GET.urlencode(),
    }


def _with_rights(request: HttpRequest, log: tuple[LogEntry, ...], now: datetime) -> list[LogEntry]:
    """Return the log, each entry with its strike-out only where this person may strike it out."""
    person = person_of(request)
    return [
        replace(
            one,
            can_strike=one.can_strike
            and person is not None
            and may_strike(person=person, by=one.by, recorded_at=one.recorded_at, now=now),
        )
        for one in log
    ]


def _deed_address(deed: str, tray: Tray) -> str:
    if deed == "dispatch":
        return reverse("batches:tray-deed", args=[tray.code, deed])
    return reverse(f"batches:{deed}", args=[tray.code])


def _logged(request: HttpRequest, found: Tray) -> TrayCheck | None:
    """Return the look that was logged a moment ago, for the undo bar; None when there is none."""
    try:
        row_id = UUID(request.GET.get("logged", ""))
    except ValueError:
        return None
    return TrayCheck.objects.standing().filter(pk=row_id, tray=found).first()


@for_hands
@require_POST
def strike(request: HttpRequest, code: str, table: str, row_id: UUID) -> HttpResponse:
    """Strike out a row of a tray's history; it stays readable."""
    if table not in _TABLES:
        raise Http404
    row = get_object_or_404(_TABLES[table].objects.select_related("tray"), pk=row_id)
    require_own(request, row)
    try:
        strike_out(row=row, by=request.user.get_username(), now=clock.now())
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "Struck out. The row stays readable in the log.")
    return redirect("batches:tray", code)


@for_tablets
@require_GET
def tray_short(request: HttpRequest, code: str) -> HttpResponse:
    """Open what a label's QR names; a code that is not ours is refused in words.

    A tablet at which nobody is signed in opens its own page with the code.
    """
    if person_of(request) is None:
        return redirect(f"{reverse('batches:bench-page')}#t={quote(code)}")
    try:
        found = find_code(code)
    except NurseryError as error:
        context = {"error": error.message, "text": code[:40]}
        return render(request, "batches/tray/unknown.html", context, status=HTTPStatus.NOT_FOUND)
    pages = {"tray": "tray", "batch": "batch", "lot": "lot", "laid_out": "laid-out"}
    if found.kind in pages:
        return redirect(f"batches:{pages[found.kind]}", found.code)
    return redirect(f"/search/?q={found.code}")


@for_hands
@require_GET
def photo(request: HttpRequest, photo_id: UUID) -> FileResponse:
    """Send a stored picture."""
    row = get_object_or_404(CheckPhoto, pk=photo_id)
    path = Path(settings.MEDIA_ROOT) / row.file
    if not path.is_file():
        raise Http404("The picture is not in the photo folder.")
    return _picture(path)


@for_tablets
@require_GET
def photo_small(request: HttpRequest, photo_id: UUID) -> FileResponse:
    """Send the small copy of a stored picture."""
    row = get_object_or_404(CheckPhoto, pk=photo_id)
    try:
        return _picture(small_copy(photo=row, folder=Path(settings.MEDIA_ROOT)))
    except NurseryError as error:
        raise Http404(error.message) from error


def _picture(path: Path) -> FileResponse:
    answer = FileResponse(path.open("rb"), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer
