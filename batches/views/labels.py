"""Labels: choose what is printed, on which stock, from which free label on; look, then print."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.labels import LabelsForm
from batches.labels import LabelRefused, LabelRow, LabelsUnavailable, Stock, why_unavailable
from batches.labels.from_records import (
    Labelled,
    PotWishes,
    batch_named,
    bench_labels,
    lot_labels,
    passports_of,
    pot_labels,
    source_labels,
    tray_labels,
    trays_of,
)
from batches.labels.own_stocks import stocks_offered
from batches.labels.preview import Preview, first_sheet
from batches.labels.print_runs import PrintRun, start_run
from batches.services.holds import held_of
from batches.services.label_log import (
    count_unlabelled,
    last_prints,
    note_printed,
    print_again,
    printed_before,
    unlabelled_codes,
)
from batches.services.own_settings import own_setting
from batches.services.passports import CAUTION, note_issued, passport_terms
from batches.services.protection import protected_among
from batches.views import clock
from batches.views.access import Access, access_of, for_hands

#: up to so many labels the page waits for its PDF; for more it shows how far they are
_FEW = 100
_PATIENCE = (60.0, 1.0)
#: sheets with more labels than this are not drawn to click on: the number is typed
_MOST_DRAWN = 130
_MAKERS = {
    "tray": tray_labels,
    "lot": lot_labels,
    "source": source_labels,
    "bench": bench_labels,
}


@for_hands
@require_http_methods(["GET", "POST"])
def labels(request: HttpRequest) -> HttpResponse:
    """Show the choice of labels; a POST looks at the first sheet, or prints."""
    codes, kind = _asked_for(request)
    stocks = stocks_offered()
    form = LabelsForm(
        request.POST or None,
        codes=codes,
        stocks=[(name, stock.title or name) for name, stock in stocks.items()],
        kind=kind,
        passports=_may_issue(request),
        sheet_href=reverse("batches:labels-sheet"),
    )
    shown: Preview | None = None
    again = 0
    if request.method == "POST" and form.is_valid():
        if request.POST.get("do") == "look":
            shown, again = _look(request, form, stocks)
        elif request.POST.get("do") != "draw":
            answer = _print(request, form, stocks)
            if answer is not None:
                return answer
    context = {
        "form": form,
        **_sheet(stocks.get(str(form["stock"].value())), form["start_at"].value()),
        "missing": why_unavailable(),
        "passport_caution": CAUTION if "with_passport" in form.fields else "",
        "prints": last_prints(),
        "unlabelled": count_unlabelled(),
        "shown": shown,
        "again": again,
        "protected": protected_among(codes=form["codes"].value().split())
        if form["codes"].value()
        else {},
        "held": held_of(codes=form["codes"].value().split()) if form["codes"].value() else {},
        "may_measure": access_of(request) >= Access.OFFICE,
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/labels/page.html", context, status=status)


@for_hands
@require_GET
def labels_sheet(request: HttpRequest) -> HttpResponse:
    """Draw another stock's sheet, to choose its first free label on."""
    stock = stocks_offered().get(request.GET.get("stock", ""))
    return render(request, "batches/labels/_sheet.html", _sheet(stock, 1))


def _sheet(stock: Stock | None, start_at: object) -> dict[str, object]:
    """Return the places of a sheet row by row; nothing to draw for singles."""
    chosen = int(str(start_at)) if str(start_at).isdecimal() else 1
    rows: list[list[int]] = []
    if stock is not None and not stock.single and stock.labels_per_page <= _MOST_DRAWN:
        rows = [
            [row * stock.columns + column + 1 for column in range(stock.columns)]
            for row in range(stock.rows)
        ]
        chosen = chosen if chosen <= stock.labels_per_page else 0
    return {"stock": stock, "places": rows, "chosen": chosen}


def _asked_for(request: HttpRequest) -> tuple[list[str], str]:
    """Return the codes and the kind that the address names: trays, a batch, a lot, unlabelled."""
    # PostgreSQL refuses to look for a NUL; no code holds one.
    named = {
        name: [value.replace("\x00", "") for value in values]
        for name, values in request.GET.lists()
    }
    asked = {name: values[-1] for name, values in named.items() if values}
    for kind in ("lot", "source", "bench"):
        if asked.get(kind):
            return named[kind], kind
    if asked.get("again"):
        return print_again(pk=asked["again"])
    kind = "pot" if asked.get("kind") == "pot" else "tray"
    codes = [*named.get("tray", ()), *named.get("laid_out", ())]
    if asked.get("batch"):
        try:
            codes += trays_of(batch=batch_named(asked["batch"]))
        except NurseryError as error:
            messages.error(request, error.message)
    if asked.get("unlabelled"):
        codes += unlabelled_codes()
    return list(dict.fromkeys(codes)), kind


def _labelled(request: HttpRequest, form: LabelsForm) -> Labelled:
    address = own_setting("label_address") or request.build_absolute_uri("/")
    found = form.cleaned_data
    if found["kind"] == "pot":
        wanted = PotWishes(
            care=found["with_care"],
            size=found["with_size"],
            price=found["price"].strip(),
            passport=passport_terms() if found.get("with_passport") else None,
            origin=found.get("origin", "").strip(),
        )
        return pot_labels(codes=found["codes"], address=address, wanted=wanted)
    return _MAKERS[found["kind"]](codes=found["codes"], address=address)


def _may_issue(request: HttpRequest) -> bool:
    """Tell whether this person may print passports: the nursery issues them, and is no hand."""
    return access_of(request) >= Access.OFFICE and passport_terms() is not None


def _look(
    request: HttpRequest, form: LabelsForm, stocks: dict[str, Stock]
) -> tuple[Preview | None, int]:
    """Return the first sheet as it would be printed, and how many had a label before."""
    found = form.cleaned_data
    try:
        labelled = _labelled(request, form)
        shown = first_sheet(
            labelled.rows,
            stocks[found["stock"]],
            copies=found["copies"],
            start_at=found["start_at"],
        )
    except NurseryError as error:
        _refuse(form, error)
        return None, 0
    return shown, printed_before(codes=labelled.codes, kind=found["kind"])


def _print(request: HttpRequest, form: LabelsForm, stocks: dict[str, Stock]) -> HttpResponse | None:
    found = form.cleaned_data
    by = request.user.get_username()
    try:
        labelled = _labelled(request, form)
        if "page" in request.POST and found.get("with_passport"):
            raise LabelRefused(
                "A passport is printed by “Make the labels” only.", field="with_passport"
            )
        if "page" in request.POST:
            note_printed(
                codes=labelled.codes,
                kind=found["kind"],
                stock="print page",
                labels=len(labelled.rows) * found["copies"],
                by=by,
                now=clock.now(),
            )
            return _page_to_print(request, labelled.rows, found["copies"])
        run = start_run(
            labelled.rows,
            stocks[found["stock"]],
            codes=labelled.codes,
            kind=found["kind"],
            by=by,
            copies=found["copies"],
            start_at=found["start_at"],
            passports=passports_of(labelled.rows, copies=found["copies"]),
        )
        if run.wait(_PATIENCE[run.wanted > _FEW]) and run.failure is not None:
            raise run.failure
    except LabelsUnavailable as error:
        messages.error(request, f"{error.message} Use “Open a page to print” instead.")
        return None
    except NurseryError as error:
        _refuse(form, error)
        return None
    if not run.is_over or (run.result is not None and run.result.notes):
        return redirect("batches:labels-run", run.id)
    return pdf_of(run)


def pdf_of(run: PrintRun) -> HttpResponse | None:
    """Return a finished run's PDF and write the print into the log, once; None when it is gone."""
    pdf = run.pdf()
    if pdf is None:
        return None
    if run.first_to_note():
        note_printed(
            codes=run.codes,
            kind=run.kind,
            stock=run.stock,
            labels=run.wanted,
            by=run.by,
            now=clock.now(),
        )
        if run.passports:
            note_issued(printed=run.passports, run=run.id, by=run.by, now=clock.now())
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="labels.pdf"'
    return answer


def _refuse(form: LabelsForm, error: NurseryError) -> None:
    form.add_error(error.field if error.field in form.fields else "codes", error.message)


def _page_to_print(request: HttpRequest, rows: tuple[LabelRow, ...], copies: int) -> HttpResponse:
    repeated = [row for row in rows for _ in range(copies)]
    return render(request, "batches/print/labels.html", {"rows": repeated})
