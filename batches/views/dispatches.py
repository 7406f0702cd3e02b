"""What left and what is to go; what can be sold: as pages, as files, on paper."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from batches.services.availability import availability as what_is_available
from batches.services.availability import availability_rows
from batches.services.dispatch_list import dispatch_rows, dispatches_between, to_pick
from batches.views import clock
from batches.views.access import for_office
from batches.views.bounds import bounds_asked
from batches.views.csv_file import csv_file
from batches.views.pdf_file import pdf_file

DISPATCHES_A_PAGE = 50


@for_office
@require_GET
def dispatches(request: HttpRequest) -> HttpResponse:
    """Show the open orders with the trays to take them from, and what left."""
    first, last = bounds_asked(request)
    found = dispatches_between(first=first, last=last)
    page = Paginator(found, DISPATCHES_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "picking": to_pick(), "first": first, "last": last}
    return render(request, "batches/dispatches/page.html", context)


@for_office
@require_GET
def dispatches_csv(request: HttpRequest) -> HttpResponse:
    """Give out what left as a file."""
    first, last = bounds_asked(request)
    rows = dispatch_rows(dispatches_between(first=first, last=last))
    return csv_file(rows, name=f"dispatches-{clock.today():%Y-%m-%d}.csv")


@for_office
@require_GET
def dispatches_print(request: HttpRequest) -> HttpResponse:
    """Print the picking list, and what left in the days asked for (today's without any)."""
    first, last = bounds_asked(request)
    if first is None and last is None:
        first = last = clock.today()
    context = {
        "picking": to_pick(),
        "dispatches": dispatches_between(first=first, last=last),
        "first": first,
        "last": last,
    }
    return pdf_file(
        request, "batches/print/dispatches_pdf.html", context,
        name="dispatches", back=reverse("batches:dispatches"),
    )  # fmt: skip


@for_office
@require_GET
def availability(request: HttpRequest) -> HttpResponse:
    """Show what can be sold now, and what comes."""
    context = {"rows": what_is_available(today=clock.today())}
    return render(request, "batches/availability/page.html", context)


@for_office
@require_GET
def availability_csv(request: HttpRequest) -> HttpResponse:
    """Give the availability list out as a file."""
    rows = availability_rows(what_is_available(today=clock.today()))
    return csv_file(rows, name=f"availability-{clock.today():%Y-%m-%d}.csv")


@for_office
@require_GET
def availability_print(request: HttpRequest) -> HttpResponse:
    """Print the availability list."""
    context = {"rows": what_is_available(today=clock.today())}
    return pdf_file(
        request, "batches/print/availability_pdf.html", context,
        name="availability", back=reverse("batches:availability"),
    )  # fmt: skip
