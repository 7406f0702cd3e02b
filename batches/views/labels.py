"""Labels: choose what is printed, on which stock, from which free label on."""

from __future__ import annotations

import tempfile
from http import HTTPStatus
from pathlib import Path

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.labels import LabelsForm
from batches.labels import STOCKS, LabelRow, LabelsUnavailable, print_labels, why_unavailable
from batches.labels.from_records import (
    Labelled,
    batch_named,
    lot_labels,
    pot_labels,
    tray_labels,
    trays_of,
)
from batches.services.label_log import last_prints, note_printed, unlabelled_codes
from batches.services.own_settings import own_setting
from batches.views import clock
from batches.views.access import for_hands


@for_hands
@require_http_methods(["GET", "POST"])
def labels(request: HttpRequest) -> HttpResponse:
    """Show the choice of labels; a POST answers with the PDF, or with the page to print."""
    codes, kind = _asked_for(request)
    stocks = [(name, stock.title) for name, stock in STOCKS.items()]
    form = LabelsForm(request.POST or None, codes=codes, stocks=stocks, kind=kind)
    if request.method == "POST" and form.is_valid():
        answer = _print(request, form)
        if answer is not None:
            return answer
    context = {
        "form": form,
        "stocks": STOCKS.values(),
        "missing": why_unavailable(),
        "prints": last_prints(),
        "unlabelled": len(unlabelled_codes()),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/labels/page.html", context, status=status)


def _asked_for(request: HttpRequest) -> tuple[list[str], str]:
    """Return the codes and the kind that the address names: trays, a batch, a lot, unlabelled."""
    asked = request.GET
    if asked.get("lot"):
        return asked.getlist("lot"), "lot"
    kind = "pot" if asked.get("kind") == "pot" else "tray"
    codes = [*asked.getlist("tray"), *asked.getlist("laid_out")]
    if asked.get("batch"):
        try:
            codes += trays_of(batch=batch_named(asked["batch"]))
        except NurseryError as error:
            messages.error(request, error.message)
    if asked.get("unlabelled"):
        codes += unlabelled_codes()
    return list(dict.fromkeys(codes)), kind


def _print(request: HttpRequest, form: LabelsForm) -> HttpResponse | None:
    found = form.cleaned_data
    address = own_setting("label_address") or request.build_absolute_uri("/")
    try:
        labelled = _labelled(found["kind"], found["codes"], address)
        if "page" in request.POST:
            answer = _page_to_print(request, labelled.rows, found["copies"])
            count = len(labelled.rows) * found["copies"]
        else:
            answer, count = _pdf(labelled, found)
    except LabelsUnavailable as error:
        messages.error(request, f"{error.message} Use “Open a page to print” instead.")
        return None
    except NurseryError as error:
        form.add_error(error.field if error.field in form.fields else "codes", error.message)
        return None
    note_printed(
        codes=labelled.codes,
        kind=found["kind"],
        stock="print page" if "page" in request.POST else found["stock"],
        labels=count,
        by=request.user.get_username(),
        now=clock.now(),
    )
    return answer


def _labelled(kind: str, codes: list[str], address: str) -> Labelled:
    makers = {"tray": tray_labels, "pot": pot_labels, "lot": lot_labels}
    return makers[kind](codes=codes, address=address)


def _pdf(labelled: Labelled, found: dict[str, object]) -> tuple[HttpResponse, int]:
    stock = STOCKS[str(found["stock"])]
    with tempfile.TemporaryDirectory(prefix="frondbook-") as folder:
        output = Path(folder) / "labels.pdf"
        result = print_labels(
            labelled.rows,
            stock,
            copies=int(str(found["copies"])),
            start_at=int(str(found["start_at"])),
            output=output,
        )
        answer = HttpResponse(output.read_bytes(), content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return answer, result.labels


def _page_to_print(request: HttpRequest, rows: tuple[LabelRow, ...], copies: int) -> HttpResponse:
    repeated = [row for row in rows for _ in range(copies)]
    return render(request, "batches/print/labels.html", {"rows": repeated})
