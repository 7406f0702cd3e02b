"""Plant passports: the nursery's terms, and the register of what was issued, sent and received."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.passports import PassportTermsForm
from batches.models import PassportIssue
from batches.services.own_settings import own_setting
from batches.services.passport_register import register_of, register_rows
from batches.services.passports import (
    CAUTION,
    YEARS_KEPT,
    issued_between,
    note_spoiled,
    passport_terms,
    set_passport_terms,
    years_back,
)
from batches.views import clock
from batches.views.access import Access, access_of, for_managers, for_office
from batches.views.bounds import bounds_asked
from batches.views.csv_file import csv_file
from batches.views.form_page import form_page
from batches.views.noting import form_changes, note
from batches.views.pdf_file import pdf_file

ISSUES_A_PAGE = 50


@for_managers
@require_http_methods(["GET", "POST"])
def passport_settings(request: HttpRequest) -> HttpResponse:
    """Show what every passport says; a POST stores it. Without a form none are printed."""
    initial = {name: own_setting(f"passport_{name}") for name in PassportTermsForm.base_fields}
    form = PassportTermsForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                set_passport_terms(**form.cleaned_data)
                note(request, "passport terms set", **form_changes(form))
        except NurseryError as error:
            form.refuse(error)
        else:
            on = passport_terms() is not None
            words = "can be printed on pot labels" if on else "are not printed"
            messages.success(request, f"Stored. Plant passports {words}.")
            return redirect("batches:passport-settings")
    return form_page(
        request,
        form,
        title="Plant passports",
        submit="Store it",
        crumbs=[("Settings", reverse("batches:settings")), ("Plant passports", "")],
        lead="Off until you choose a form. The code on the label is the traceability code (C).",
        cautions=[CAUTION, "Frondbook gives no legal advice: ask your authority what you need."],
    )


@for_office
@require_GET
def passports(request: HttpRequest) -> HttpResponse:
    """Show the register: of the days asked for, or of the years that must be kept."""
    first, last = _days(request)
    page = Paginator(issued_between(first=first, last=last), ISSUES_A_PAGE).get_page(
        request.GET.get("page")
    )
    found = register_of(first=first, last=last)
    context = {
        "page": page,
        "sent": found.sent[:ISSUES_A_PAGE],
        "received": found.received,
        "first": first,
        "last": last,
        "years": YEARS_KEPT,
        "terms": passport_terms(),
        "may_set": access_of(request) >= Access.MANAGER,
        "caution": CAUTION,
    }
    return render(request, "batches/passports/page.html", context)


@for_office
@require_GET
def passports_csv(request: HttpRequest) -> HttpResponse:
    """Give the register out as a file."""
    first, last = _days(request)
    rows = register_rows(register_of(first=first, last=last))
    return csv_file(rows, name=f"passports-{clock.today():%Y-%m-%d}.csv")


@for_office
@require_GET
def passports_print(request: HttpRequest) -> HttpResponse:
    """Print the register."""
    first, last = _days(request)
    context = {"register": register_of(first=first, last=last), "first": first, "last": last}
    return pdf_file(
        request, "batches/print/passports_pdf.html", context,
        name="passports", back=reverse("batches:passports"),
    )  # fmt: skip


@for_office
@require_POST
def passport_spoiled(request: HttpRequest, issue_id: UUID) -> HttpResponse:
    """Note that the labels of an entry were spoiled and destroyed."""
    issue = get_object_or_404(PassportIssue, pk=issue_id)
    try:
        note_spoiled(issue=issue, by=request.user.get_username(), now=clock.now())
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"The labels of {issue.c} are noted as destroyed.")
    return redirect("batches:passports")


def _days(request: HttpRequest) -> tuple[date | None, date | None]:
    first, last = bounds_asked(request)
    return (first or years_back(clock.today())), last
