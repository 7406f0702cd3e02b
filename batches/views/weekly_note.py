"""The weekly note: on the page, on paper, and as text to send on."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.services.days import week_words
from batches.services.own_settings import own_setting
from batches.services.weekly_note import WEEKS_AHEAD, week_named, weekly_note
from batches.views import clock
from batches.views.access import for_hands
from batches.views.pdf_file import pdf_file


@for_hands
@require_GET
def weekly(request: HttpRequest) -> HttpResponse:
    """Show the note of a week, this one unless another is asked for."""
    today = clock.today()
    try:
        monday = week_named(request.GET.get("week", ""), today=today)
    except NurseryError as error:
        messages.warning(request, f"{error.message} Here is this week.")
        return redirect("batches:weekly-note")
    after = monday + timedelta(days=7)
    context = _context(request) | {
        "before": week_words(monday - timedelta(days=7)),
        "after": week_words(after) if after <= today else "",
    }
    return render(request, "batches/weekly/page.html", context)


@for_hands
@require_GET
def weekly_print(request: HttpRequest) -> HttpResponse:
    """Print the note of a week."""
    try:
        context = _context(request)
    except NurseryError:
        return redirect("batches:weekly-note")
    return pdf_file(
        request, "batches/print/weekly_pdf.html", context,
        name=f"week-{context['note'].week}", back=reverse("batches:weekly-note"),
    )  # fmt: skip


@for_hands
@require_GET
def weekly_text(request: HttpRequest) -> HttpResponse:
    """Give the note of a week as plain text, for a message to people without a sign-in."""
    try:
        context = _context(request)
    except NurseryError:
        return redirect("batches:weekly-note")
    context["nursery_name"] = own_setting("nursery_name")
    text = render_to_string("batches/weekly/note.txt", context)
    answer = HttpResponse(text, content_type="text/plain; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="week-{context["note"].week}.txt"'
    return answer


def _context(request: HttpRequest) -> dict[str, Any]:
    today = clock.today()
    monday = week_named(request.GET.get("week", ""), today=today)
    return {"note": weekly_note(monday=monday, today=today), "weeks_ahead": WEEKS_AHEAD}
