"""Prints on paper: the morning's list, the round, a batch's card, the sowings, the treatments."""

from __future__ import annotations

from itertools import groupby

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.labels.from_records import address_of
from batches.labels.qr_drawing import qr_image
from batches.models import Batch, Bench, Tray
from batches.services.batch_list import trays_of
from batches.services.due_entries import due_entries, lines_of
from batches.services.own_settings import own_setting
from batches.services.planned_sowings import sowings_by_week
from batches.services.today import by_bench, morning_note
from batches.services.treatments import treatments_between
from batches.views import clock
from batches.views.access import for_hands
from batches.views.bounds import bounds_asked
from batches.views.pdf_file import pdf_file

#: nobody walks by more lines in a morning, nor carries more sheets; larger prints take minutes
MOST_LINES, MOST_IN_A_ROUND = 1_000, 1_000
# A round of many trays may take so much longer than any other print.
_SECONDS_A_TRAY = 0.1


@for_hands
@require_GET
def morning_list(request: HttpRequest) -> HttpResponse:
    """Print what is due and late, bench by bench, with a box for each line."""
    day, now = clock.today(), clock.now()
    due = due_entries(on=day, now=now)
    note = morning_note(kinds=due.kinds, today=day, now=now)
    lines = lines_of(entries=due[:MOST_LINES], on=day)
    cut = len(due) > MOST_LINES
    context = {"note": note, "benches": by_bench(lines), "lines": len(lines), "cut": cut}
    return pdf_file(
        request, "batches/print/morning_pdf.html", context,
        name=f"morning-{day:%Y-%m-%d}", back=reverse("batches:today"),
    )  # fmt: skip


@for_hands
@require_GET
def round_sheet(request: HttpRequest) -> HttpResponse:
    """Print the round for the pencil: a bench a page, its trays in walking order, boxes to tick."""
    trays = Tray.objects.active().filter(bench__isnull=False).with_fern().in_walking_order()
    bench = request.GET.get("bench", "")
    if bench:
        trays = trays.filter(bench=get_object_or_404(Bench, code=bench))
    if trays.count() > MOST_IN_A_ROUND:
        words = f"More than {MOST_IN_A_ROUND:,} trays stand here: too many for one print."
        messages.error(request, f"{words} Open a bench and print its round sheet.")
        return redirect("batches:houses")
    rows = [(tray, _qr(request, tray.code)) for tray in trays]
    benches = [(place, list(some)) for place, some in groupby(rows, key=lambda row: row[0].bench)]
    return pdf_file(
        request, "batches/print/round_pdf.html", {"benches": benches},
        name="round", back=reverse("batches:bench-map"), timeout=60 + _SECONDS_A_TRAY * len(rows),
    )  # fmt: skip


@for_hands
@require_GET
def batch_card(request: HttpRequest, code: str) -> HttpResponse:
    """Print a batch's card: what it is, whence, and every tray of it."""
    found = Batch.objects.for_list().filter(code=code).first()
    if found is None:
        raise Http404("No batch carries this code.")
    lot = found.spore_lot
    context = {
        "batch": found,
        "origin": found.source if lot is None else lot.source,
        "trays": trays_of(batch=found),
        "qr": _qr(request, found.code),
    }
    return pdf_file(
        request, "batches/print/batch_pdf.html", context,
        name=f"batch-{found.code}", back=reverse("batches:batch", args=[found.code]),
    )  # fmt: skip


@for_hands
@require_GET
def sowing_list(request: HttpRequest) -> HttpResponse:
    """Print what is planned to be sown, by ISO week, with the lots to take."""
    return pdf_file(
        request, "batches/print/sowings_pdf.html", {"weeks": sowings_by_week()},
        name="sowings", back=reverse("batches:sow"),
    )  # fmt: skip


@for_hands
@require_GET
def treatments_print(request: HttpRequest) -> HttpResponse:
    """Print the register of treatments, of all days or of those asked for."""
    first, last = bounds_asked(request)
    context = {
        "treatments": treatments_between(first=first, last=last),
        "first": first,
        "last": last,
    }
    return pdf_file(
        request, "batches/print/treatments_pdf.html", context,
        name="treatments", back=reverse("batches:treatments"),
    )  # fmt: skip


def _qr(request: HttpRequest, code: str) -> SafeString:
    """Return the drawing of a code's QR; nothing where its address is too long for one."""
    address = own_setting("label_address") or request.build_absolute_uri("/")
    try:
        return mark_safe(qr_image(address_of(code, address)))  # noqa: S308 - numbers only
    except NurseryError:
        return mark_safe("")
