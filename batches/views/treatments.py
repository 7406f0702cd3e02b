"""The register of treatments: written down as on the label, printed and given out as a file."""

from __future__ import annotations

from datetime import date
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.register import TreatmentForm
from batches.models import Treatment
from batches.services.treatments import (
    mend_treatment,
    record_treatment,
    register_rows,
    treatments_between,
)
from batches.views import clock
from batches.views.access import Access, access_of, for_hands, for_office
from batches.views.csv_file import csv_file
from batches.views.form_page import form_page

TREATMENTS_A_PAGE = 50
LABEL = (
    "The product's label and your licence decide on use, rate, clothing and re-entry. Frondbook "
    "recommends no product and no dose."
)


@for_hands
@require_GET
def treatments(request: HttpRequest) -> HttpResponse:
    """Show the register, the newest entry first."""
    first, last = _bounds(request)
    found = treatments_between(first=first, last=last)
    page = Paginator(found, TREATMENTS_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "first": first,
        "last": last,
        "now": clock.now(),
        "caution": LABEL,
        "may_mend": access_of(request) >= Access.OFFICE,
        "new_href": reverse("batches:treatment-new"),
        "nothing_yet": not page.object_list and not Treatment.objects.exists(),
    }
    return render(request, "batches/treatments/page.html", context)


@for_hands
@require_GET
def treatments_csv(request: HttpRequest) -> HttpResponse:
    """Give the register out as a file."""
    first, last = _bounds(request)
    rows = register_rows(treatments_between(first=first, last=last))
    return csv_file(rows, name=f"treatments-{clock.today():%Y-%m-%d}.csv")


@for_hands
@require_http_methods(["GET", "POST"])
def treatment_new(request: HttpRequest) -> HttpResponse:
    """Write a treatment into the register."""
    initial = {
        "done_at": timezone.localtime(clock.now()),
        "operator": request.user.get_username(),
        "place_or_trays": request.GET.get("place", ""),
    }
    form = TreatmentForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            stored = record_treatment(
                words=form.words(), now=clock.now(), record_id=form.cleaned_data["record_id"]
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, stored.message)
            return redirect("batches:treatments")
    return form_page(
        request,
        form,
        title="New treatment",
        submit="Write it into the register",
        crumbs=[("Treatments", reverse("batches:treatments")), ("New treatment", "")],
        lead="A product or a biological control, as the operator reads it off the label.",
        cautions=[LABEL],
    )


@for_office
@require_http_methods(["GET", "POST"])
def treatment_mend(request: HttpRequest, treatment_id: UUID) -> HttpResponse:
    """Put a wrong entry right; what it said before stays beside it."""
    found = get_object_or_404(Treatment, pk=treatment_id)
    names = set(TreatmentForm.base_fields) - {"record_id"}
    initial = {name: getattr(found, name) for name in names}
    initial["done_at"] = timezone.localtime(found.done_at)
    form = TreatmentForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            stored = mend_treatment(
                treatment=found,
                words=form.words(),
                by=request.user.get_username(),
                now=clock.now(),
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, stored.message)
            return redirect("batches:treatments")
    return form_page(
        request,
        form,
        title="Mend an entry",
        submit="Store it as it should be",
        crumbs=[("Treatments", reverse("batches:treatments")), ("Mend an entry", "")],
        lead="What the entry said before stays readable beside it.",
        cautions=[LABEL],
    )


def _bounds(request: HttpRequest) -> tuple[date | None, date | None]:
    return _day(request.GET.get("from", "")), _day(request.GET.get("to", ""))


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
