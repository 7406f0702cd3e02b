"""The round sheet comes back from the benches: its rows are entered one after the other."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.paper import RowForm, SheetForm
from batches.models import Tray
from batches.services.checks import record_check
from batches.services.codes import find_tray
from batches.views import clock
from batches.views.access import for_hands, person_of
from batches.views.form_page import status_of


@for_hands
@require_http_methods(["GET", "POST"])
def round_sheet_enter(request: HttpRequest) -> HttpResponse:
    """Ask for a sheet's day and name, then a tray's code, then its row; a POST stores the row."""
    given = request.GET if "on" in request.GET else None
    sheet = SheetForm(given, today=clock.today())
    context: dict[str, object] = {"sheet": sheet}
    row: RowForm | None = None
    if sheet.is_valid():
        asked = {"on": f"{sheet.cleaned_data['on']:%Y-%m-%d}", "by": sheet.cleaned_data["by"]}
        context |= {"asked": asked, "on": sheet.cleaned_data["on"], "by": asked["by"]}
        code = request.GET.get("code", "").strip()
        if code:
            tray = _tray(request, code, context)
            if tray is not None:
                row = RowForm(request.POST or None, tray=tray)
                if (
                    request.method == "POST"
                    and row.is_valid()
                    and _stored(request, tray, row, sheet)
                ):
                    return redirect(f"{reverse('batches:round-sheet-enter')}?{urlencode(asked)}")
                context |= {"tray": tray, "form": row}
    return render(request, "batches/paper/page.html", context, status=status_of(row))


def _tray(request: HttpRequest, code: str, context: dict[str, object]) -> Tray | None:
    """Return the tray of a scanned or typed code; None puts the reason into the context."""
    # A scanner types the whole address that stands in a label's QR.
    code = code.rstrip("/").rsplit("/", 1)[-1]
    try:
        tray = find_tray(code)
    except NurseryError as error:
        context |= {"code": code[:80], "error": error.message}
        return None
    return Tray.objects.with_fern().get(pk=tray.pk)


def _stored(request: HttpRequest, tray: Tray, row: RowForm, sheet: SheetForm) -> bool:
    """Store the row; an error goes onto its form with what was typed kept."""
    now = clock.now()
    try:
        result = record_check(
            tray=tray,
            now=now,
            by=sheet.cleaned_data["by"],
            person=person_of(request),
            source="paper",
            **row.look(on=sheet.cleaned_data["on"], now=now),
        )
    except NurseryError as error:
        row.add_error(error.field if error.field in row.fields else None, error.message)
        return False
    messages.success(request, result.message)
    return True
