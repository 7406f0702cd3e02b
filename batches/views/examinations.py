"""The plant-health examinations: where, by whom, what was found and what was done."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.register import ExaminationForm
from batches.models import Examination
from batches.services.examinations import record_examination, record_rows
from batches.views import clock
from batches.views.access import for_hands
from batches.views.csv_file import csv_file
from batches.views.form_page import form_page

EXAMINATIONS_A_PAGE = 50
LAW = (
    "A suspected quarantine pest is reported to the plant-health authority before anything is "
    "moved; law and inspector decide."
)


@for_hands
@require_GET
def examinations(request: HttpRequest) -> HttpResponse:
    """Show the examinations, the newest first."""
    found = Examination.objects.newest_first()
    page = Paginator(found, EXAMINATIONS_A_PAGE).get_page(request.GET.get("page"))
    context = {"page": page, "caution": LAW, "new_href": reverse("batches:examination-new")}
    return render(request, "batches/examinations/page.html", context)


@for_hands
@require_GET
def examinations_csv(request: HttpRequest) -> HttpResponse:
    """Give the examinations out as a file."""
    rows = record_rows(Examination.objects.newest_first())
    return csv_file(rows, name=f"examinations-{clock.today():%Y-%m-%d}.csv")


@for_hands
@require_http_methods(["GET", "POST"])
def examination_new(request: HttpRequest) -> HttpResponse:
    """Write an examination down."""
    initial = {"on": clock.today(), "examiner": request.user.get_username()}
    form = ExaminationForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            record_examination(
                words=form.words(), now=clock.now(), record_id=form.cleaned_data["record_id"]
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, "The examination is stored.")
            return redirect("batches:examinations")
    return form_page(
        request,
        form,
        title="New examination",
        submit="Store the examination",
        crumbs=[("Examinations", reverse("batches:examinations")), ("New examination", "")],
        lead="As an inspector asks for it: where, by whom, what was found, what was done.",
        cautions=[LAW],
    )
