"""Trace: where did this come from, and what has it become?"""

from __future__ import annotations

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.services.codes import noun_of
from batches.services.trace import Trail, trail_of
from batches.services.trail_words import TrailWords, words_of_trail
from batches.views.access import for_hands


@for_hands
@require_GET
def trace(request: HttpRequest, code: str) -> HttpResponse:
    """Show the trail of a thing, back and forward, with the quantities on its edges."""
    try:
        trail = trail_of(code=code)
    except NurseryError as error:
        context = {"error": error.message, "text": code}
        return render(request, "batches/trace/none.html", context, status=HTTPStatus.NOT_FOUND)
    if trail.start.code != code:
        return redirect("batches:trace", trail.start.code)
    return render(request, "batches/trace/page.html", _context(trail, words_of_trail(trail=trail)))


@for_hands
@require_GET
def trace_start(request: HttpRequest) -> HttpResponse:
    """Send a typed or scanned code to its trail; without one, ask for it."""
    code = request.GET.get("code", "").strip()
    if not code:
        return render(request, "batches/trace/start.html")
    return redirect("batches:trace", code)


def _context(trail: Trail, words: TrailWords) -> dict[str, object]:
    return {"trail": trail, "noun": noun_of(trail.start.kind), "words": words}
