"""Label stocks: the papers that labels are printed on, their measures, a test and a calibration."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.label_stock import LabelStockForm
from batches.labels import (
    STOCKS,
    LabelRefused,
    LabelRow,
    LabelsUnavailable,
    Stock,
    calibration_pdf,
    check_stock,
    first_sheet_pdf,
)
from batches.labels.from_records import labels_language, on_day
from batches.labels.own_stocks import MEASURES, as_stock, stock_called
from batches.models import LabelStock
from batches.services.label_stocks import name_for, own_stocks, set_in_use, store_stock
from batches.services.language import said
from batches.services.own_settings import own_setting
from batches.views.access import for_office
from batches.views.form_page import form_page
from batches.views.noting import form_changes, note

_LEAD = (
    "All lengths in millimetres. Measure with a ruler, print the calibration page, hold it against "
    "the stock, and type the shift in."
)


@for_office
@require_GET
def label_stocks(request: HttpRequest) -> HttpResponse:
    """List the stocks: those that come with the program and the nursery's own."""
    own = own_stocks(all_of_them=True)
    context = {"shipped": STOCKS.values(), "own": [(row, as_stock(row)) for row in own]}
    return render(request, "batches/label_stocks/page.html", context)


@for_office
@require_http_methods(["GET", "POST"])
def label_stock_new(request: HttpRequest) -> HttpResponse:
    """Write a stock down, from nothing or from one there is."""
    return _edit(request, None, from_stock=_named(request.GET.get("from", "")))


@for_office
@require_http_methods(["GET", "POST"])
def label_stock_edit(request: HttpRequest, name: str) -> HttpResponse:
    """Put the measures of the nursery's own stock right."""
    found = get_object_or_404(LabelStock, name=name)
    return _edit(request, found, from_stock=as_stock(found))


@for_office
@require_POST
def label_stock_use(request: HttpRequest, name: str) -> HttpResponse:
    """Take a stock out of use, or into use again."""
    found = get_object_or_404(LabelStock, name=name)
    with transaction.atomic():
        found = set_in_use(stock=found, in_use=request.POST.get("deed") == "use")
        note(request, "label stock in use", about=found.name, after=found.in_use)
    state = "offered again" if found.in_use else "no longer offered; the log still names it"
    messages.success(request, f"“{found}” is {state}.")
    return redirect("batches:label-stocks")


@for_office
@require_GET
def label_stock_calibration(request: HttpRequest, name: str) -> HttpResponse:
    """Give out the page of ruled frames to hold against the stock."""
    try:
        shifted = request.GET.get("shifted") == "yes"
        pdf = calibration_pdf(stock_called(name), shifted=shifted, language=get_language() or "")
    except NurseryError as error:
        return _not_printed(request, error)
    return _as_pdf(pdf, f"calibration-{name}.pdf")


@for_office
@require_GET
def label_stock_test(request: HttpRequest, name: str) -> HttpResponse:
    """Give out one full sheet of test labels."""
    try:
        stock = stock_called(name)
        row = _test_row(request)
        pdf = first_sheet_pdf([row], stock, copies=stock.labels_per_page)
    except NurseryError as error:
        return _not_printed(request, error)
    return _as_pdf(pdf, f"test-{name}.pdf")


def _test_row(request: HttpRequest) -> LabelRow:
    address = own_setting("label_address") or request.build_absolute_uri("/")
    language = labels_language()
    return LabelRow(
        kind="tray",
        code="26W14-000-01-X",
        url=f"{address.rstrip('/')}/t/26W14-000-01-X",
        name_runs=(("Dryopteris affinis", True), (" 'Crispa Gracilis'", False)),
        sown_text=on_day("sown", date(2026, 3, 30), language=language),
        lot_code="L26-000-X",
        tray_number="1",
        lot_word=said("lot", language=language),
        tray_word=said("tray", language=language),
        extra_lines=(said("test print, no tray", language=language),),
        language=language,
    )


def _edit(
    request: HttpRequest, found: LabelStock | None, *, from_stock: Stock | None
) -> HttpResponse:
    initial = asdict(from_stock) if from_stock is not None else {}
    if found is None and from_stock is not None:
        initial["title"] = f"{from_stock.title}, ours"
    form = LabelStockForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        measures = {name: form.cleaned_data[name] for name in MEASURES}
        try:
            name = found.name if found is not None else name_for(measures["title"], taken={*STOCKS})
            check_stock(Stock(name=name, **measures))
            with transaction.atomic():
                stored = store_stock(name=name, measures=measures, stock=found)
                note(request, "label stock stored", about=name, **form_changes(form))
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"“{stored}” is stored. Print its calibration page next.")
            return redirect("batches:label-stocks")
    title = "New label stock" if found is None else f"Label stock “{found}”"
    return form_page(
        request,
        form,
        title=title,
        submit="Store the stock",
        crumbs=[
            ("Labels", reverse("batches:labels")),
            ("Label stocks", reverse("batches:label-stocks")),
            (title, ""),
        ],
        lead=_LEAD,
    )


def _named(name: str) -> Stock | None:
    try:
        return replace(stock_called(name), name="") if name else None
    except LabelRefused:
        return None


def _not_printed(request: HttpRequest, error: NurseryError) -> HttpResponse:
    kept = " Nothing was changed." if isinstance(error, LabelsUnavailable) else ""
    messages.error(request, f"{error.message}{kept}")
    return redirect("batches:label-stocks")


def _as_pdf(pdf: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}"'
    return answer
