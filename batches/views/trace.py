"""Trace: where did this come from, and what has it become?"""

from __future__ import annotations

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.models import Bench, House, Order
from batches.services.codes import find_code
from batches.views.access import Access, access_of, for_hands
from batches.views.pdf_file import pdf_file
from batches.views.trail_asked import Asked, asked_by, asked_of, is_asked, trail_context

# A trail of thousands of trays may take so much longer than any other print.
_SECONDS_A_THING = 0.05


@for_hands
@require_GET
def trace(request: HttpRequest, code: str) -> HttpResponse:
    """Show the trail of a thing, back and forward, with the quantities on its edges."""
    try:
        asked = asked_of(_query(code))
    except NurseryError as error:
        return _none(request, error, code)
    if asked.trail.start.code != code:
        return redirect("batches:trace", asked.trail.start.code)
    return render(request, "batches/trace/page.html", trail_context(asked))


@for_hands
@require_GET
def trace_start(request: HttpRequest) -> HttpResponse:
    """Ask what to trace; show the trail of what carries no code of its own."""
    code = request.GET.get("code", "").strip()
    if code:
        return redirect("batches:trace", code)
    if not is_asked(request.GET):
        may_drill = access_of(request) >= Access.OFFICE
        context = {"may_drill": may_drill, **_ask(request)}
        return render(request, "batches/trace/start.html", context)
    asked = asked_by(request)
    if not isinstance(asked, Asked):
        context = {"error": asked.message, **_ask(request)}
        status = HTTPStatus.NOT_FOUND
        return render(request, "batches/trace/none.html", context, status=status)
    return render(request, "batches/trace/page.html", trail_context(asked))


@for_hands
@require_GET
def trace_print(request: HttpRequest, code: str) -> HttpResponse:
    """Print the trail of a thing, back and forward, with what was counted on the way."""
    try:
        asked = asked_of(_query(code))
    except NurseryError:
        return redirect("batches:trace", code)
    return _printed(request, asked, back=reverse("batches:trace", args=[asked.trail.start.code]))


@for_hands
@require_GET
def trace_print_asked(request: HttpRequest) -> HttpResponse:
    """Print the trail of what carries no code: a bench and its days, or what was sent."""
    back = f"{reverse('batches:trace-start')}?{request.GET.urlencode()}"
    asked = asked_by(request)
    return _printed(request, asked, back=back) if isinstance(asked, Asked) else redirect(back)


def _printed(request: HttpRequest, asked: Asked, *, back: str) -> HttpResponse:
    things = len(asked.trail.back) + len(asked.trail.forward)
    return pdf_file(
        request, "batches/print/trace_pdf.html", trail_context(asked),
        name=f"trail-{asked.trail.start.code}" if asked.query.startswith("code=") else "trail",
        back=back, timeout=60 + _SECONDS_A_THING * things,
    )  # fmt: skip


def _query(code: str) -> QueryDict:
    query = QueryDict(mutable=True)
    query["code"] = code
    return query


def _none(request: HttpRequest, error: NurseryError, code: str) -> HttpResponse:
    """Say why a code has no trail; an order's leads to what was sent for it, a bench asks days."""
    context: dict[str, object] = {"error": error.message, "text": code, "benches": _benches()}
    try:
        found = find_code(code)
    except NurseryError:
        pass
    else:
        if isinstance(found.obj, Order):
            return redirect(f"{reverse('batches:trace-start')}?order={found.code}")
        if isinstance(found.obj, (Bench, House)):
            context |= {"bench": found.code, "error": "A bench has a trail in certain days: which?"}
    return render(request, "batches/trace/none.html", context, status=HTTPStatus.NOT_FOUND)


def _ask(request: HttpRequest) -> dict[str, object]:
    asked = request.GET
    return {
        "benches": _benches(),
        "bench": asked.get("bench", ""),
        "to": asked.get("to", ""),
        "order": asked.get("order", ""),
        "first": asked.get("from", ""),
        "last": asked.get("until", ""),
    }


def _benches() -> list[Bench]:
    return list(Bench.objects.in_walking_order().select_related("house"))
