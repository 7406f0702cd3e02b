"""The register of treatments on paper: a PDF an inspector can be given."""

from __future__ import annotations

from datetime import date

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.labels import html_to_pdf
from batches.services.own_settings import own_setting
from batches.services.treatments import treatments_between
from batches.views import clock
from batches.views.access import for_hands

#: rows of one PDF; more days than that are asked for in parts
MOST_ROWS = 2_000


@for_hands
@require_GET
def treatments_pdf(request: HttpRequest) -> HttpResponse:
    """Give the register out as a PDF, the newest entry first; or say why it cannot be made."""
    first, last = _day(request.GET.get("from", "")), _day(request.GET.get("to", ""))
    found = treatments_between(first=first, last=last)
    rows = list(found[: MOST_ROWS + 1])
    context = {
        "rows": rows[:MOST_ROWS], "first": first, "last": last, "today": clock.today(),
        "cut": len(rows) > MOST_ROWS, "nursery": own_setting("nursery_name"),
    }  # fmt: skip
    try:
        made = html_to_pdf(render_to_string("batches/print/register_pdf.html", context))
    except NurseryError as error:
        messages.error(request, error.message)
        return redirect("batches:treatments")
    answer = HttpResponse(made, content_type="application/pdf")
    name = f"treatments-{clock.today():%Y-%m-%d}.pdf"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
