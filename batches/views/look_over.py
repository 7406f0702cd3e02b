"""A whole bench: looked over, all well except some; or several trays moved, vented or isolated."""

from __future__ import annotations

from datetime import date, datetime
from http import HTTPStatus
from urllib.parse import urlencode
from uuid import UUID, uuid4

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.models import Bench, Tray
from batches.services.bench_map import cell_of, suspects_among
from batches.services.free_places import bench_rooms, free_places
from batches.services.glances import record_glance
from batches.services.keeping import set_cover, set_isolated
from batches.services.moves import move
from batches.services.shut_places import shut_places
from batches.services.tray_life import in_a_row
from batches.views import clock
from batches.views.access import for_hands, person_of


@for_hands
@require_http_methods(["GET", "POST"])
def look_over(request: HttpRequest, code: str) -> HttpResponse:
    """Show a bench's trays as tiles; a POST logs the glance or does a deed to the ticked ones."""
    bench = get_object_or_404(Bench.objects.select_related("house"), code=code)
    trays = list(Tray.objects.active().filter(bench=bench).with_fern().in_walking_order())
    shut = shut_places(on=clock.today(), now=clock.now())
    shut_trays = [tray for tray in trays if shut.covers(tray)]
    if request.method == "POST":
        picked = set(request.POST.getlist("tray"))
        ticked = [tray for tray in trays if tray.code in picked]
        answer = _do(request, bench, trays, ticked, shut_trays)
        if answer is not None:
            return answer
    suspects = suspects_among(trays)
    context = {
        "bench": bench,
        "cells": [
            (tray, cell_of(tray, today=clock.today(), shut=shut, suspects=suspects))
            for tray in trays
        ],
        "ticked": set(request.POST.getlist("tray")),
        "record_id": uuid4(),
        "rooms": bench_rooms(),
        "shut": shut.of(shut_trays[0]) if shut_trays else None,
        "today": clock.today(),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if request.method == "POST" else HTTPStatus.OK
    return render(request, "batches/look_over/page.html", context, status=status)


def _do(
    request: HttpRequest, bench: Bench, trays: list[Tray], ticked: list[Tray], shut: list[Tray]
) -> HttpResponse | None:
    """Do what the pressed button says; None when it was refused (the page says why)."""
    now, today, by = clock.now(), clock.today(), request.user.get_username()
    what = request.POST.get("deed", "well")
    try:
        if what == "well":
            result = record_glance(
                trays=[tray for tray in trays if tray not in shut and not tray.isolated],
                except_=ticked,
                seen_at=None,
                now=now,
                by=by,
                person=person_of(request),
                record_id=_uuid(request.POST.get("record_id", "")),
            )
            messages.success(request, result.message)
            return _on_to_exceptions([tray.code for tray in ticked], bench)
        if not ticked:
            messages.error(request, "Tick the trays first. Nothing was changed.")
            return None
        words = _deed(
            what, request.POST.get("to_bench", ""), ticked, on=today, by=by, now=now,
            record_id=_uuid(request.POST.get("record_id", "")),
        )  # fmt: skip
    except NurseryError as error:
        messages.error(request, error.message)
        return None
    messages.success(request, words)
    return redirect("batches:look-over", bench.code)


def _deed(
    what: str, to_bench: str, ticked: list[Tray], *,
    on: date, by: str, now: datetime, record_id: UUID | None,
) -> str:  # fmt: skip
    names = in_a_row([tray.code for tray in ticked])
    if what == "move":
        bench = get_object_or_404(Bench, code=to_bench)
        free = free_places(bench=bench, most=1)
        row, column = (free[0].row, free[0].column) if free else (None, None)
        return move(
            trays=ticked, bench=bench, row=row, column=column, on=on, by=by, now=now
        ).message
    if what in {"isolate", "rejoin"}:
        isolated = what == "isolate"
        set_isolated(trays=ticked, isolated=isolated, by=by, now=now, record_id=record_id)
        return f"{names}: {'isolated; looked at last' if isolated else 'back among the others'}."
    set_cover(trays=ticked, cover=what, by=by, now=now, record_id=record_id)
    return f"{names}: the lid is {what}."


def _on_to_exceptions(codes: list[str], bench: Bench) -> HttpResponse:
    """Open the excepted trays one after the other; without any, go back to the bench."""
    if not codes:
        return redirect("batches:look-over", bench.code)
    rest = urlencode({"then": ",".join(codes[1:]), "bench": bench.code})
    return redirect(f"{reverse('batches:tray', args=[codes[0]])}?{rest}#look")


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
