"""The ferns: how each is named, when it rests, and its own windows."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.fern import FernForm, NewFernForm
from batches.forms.own_days import own_days_forms
from batches.models import SporeLot, Taxon
from batches.services.batch_list import batch_rows, batches_shown
from batches.services.fern_list import fern_rows, ferns_shown
from batches.services.ferns import (
    change_fern,
    keep_own_days,
    name_fern,
    sow_by_days_of,
    windows_of,
)
from batches.services.starter_ferns import (
    GROUPS,
    add_starter_ferns,
    names_here,
    starter_ferns,
    told_by_letter,
)
from batches.views import clock
from batches.views.access import Access, access_of, for_hands, for_office
from batches.views.by_code import not_by_that_code
from batches.views.first_steps import shown_next
from batches.views.form_page import form_page
from batches.views.noting import form_changes, note

FERNS_A_PAGE = 60
#: of each kind on a fern's own page; the lists show the rest
MOST_LINES = 40


@for_hands
@require_GET
def ferns(request: HttpRequest) -> HttpResponse:
    """List the ferns by name."""
    fern = request.GET.get("fern", "")[:80]
    page = Paginator(ferns_shown(fern=fern), FERNS_A_PAGE).get_page(request.GET.get("page"))
    rows = fern_rows(taxa=list(page.object_list))
    may_edit = access_of(request) >= Access.OFFICE
    context = {
        "page": page,
        "rows": rows,
        "fern": fern,
        "may_edit": may_edit,
        "nothing_yet": not rows and not Taxon.objects.exists(),
        "new_href": reverse("batches:starter-ferns") if may_edit else "",
        "next_step": shown_next(request, after="ferns"),
    }
    return render(request, "batches/ferns/page.html", context)


@for_office
@require_http_methods(["GET", "POST"])
def starter(request: HttpRequest) -> HttpResponse:
    """Show the list of ferns to pick from; a POST names the ticked ones."""
    ticked = request.POST.getlist("fern")[:200]
    refused = ""
    if request.method == "POST":
        try:
            added = add_starter_ferns(keys=ticked, now=clock.now(), language=get_language() or "")
        except NurseryError as error:
            refused = error.message
        else:
            many = len(added)
            messages.success(request, f"{many} fern{'' if many == 1 else 's'} stored.")
            return redirect("batches:ferns")
    here = names_here()
    found = [(fern, fern.key.casefold() in here) for fern in starter_ferns()]
    context = {
        "groups": [(word, [one for one in found if one[0].group == name]) for name, word in GROUPS],
        "letters": told_by_letter(),
        "ticked": ticked,
        "refused": refused,
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
    return render(request, "batches/ferns/starter.html", context, status=status)


@for_hands
@require_GET
def fern(request: HttpRequest, code: str) -> HttpResponse:
    """Show a fern: its facts, its windows, and what there is of it."""
    taxon = Taxon.objects.filter(code=code).first()
    if taxon is None:
        return not_by_that_code(request, code, kind="taxon", page="fern")
    batches = batches_shown(standing=True, fern="", route="").filter(taxon=taxon)
    context = {
        "taxon": taxon,
        "windows": windows_of(taxon=taxon),
        "sow_by_days": f"{sow_by_days_of(taxon):,}",
        "origins": taxon.sources.select_related("bench")[:MOST_LINES],
        "lots": SporeLot.objects.in_store().filter(taxon=taxon)[:MOST_LINES],
        "batches": batch_rows(batches=list(batches[:MOST_LINES])),
        "may_edit": access_of(request) >= Access.OFFICE,
    }
    return render(request, "batches/ferns/fern.html", context)


@for_office
@require_http_methods(["GET", "POST"])
def fern_new(request: HttpRequest) -> HttpResponse:
    """Name a new fern."""
    initial = {"spore_kind": "not_green", "form": "fern", "routes": ["spore"]}
    form = NewFernForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            taxon = name_fern(
                name=form.name(),
                facts=form.facts(),
                now=clock.now(),
                own_code=form.cleaned_data["own_code"],
                record_id=form.cleaned_data["record_id"],
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"{taxon.name.text} is stored as {taxon.code}.")
            return redirect("batches:fern", taxon.code)
    return form_page(
        request,
        form,
        title="New fern",
        submit="Store the fern",
        crumbs=[("Ferns", reverse("batches:ferns")), ("New fern", "")],
        lead="Its name is set right as you store it: signs, italics, quotes.",
    )


@for_office
@require_http_methods(["GET", "POST"])
def fern_edit(request: HttpRequest, code: str) -> HttpResponse:
    """Note a fern's name and facts anew; its trays' dates follow."""
    taxon = Taxon.objects.filter(code=code).first()
    if taxon is None:
        return not_by_that_code(request, code, kind="taxon", page="fern-edit")
    initial = {name: getattr(taxon, name) for name in FernForm.base_fields if name != "record_id"}
    initial["routes"] = taxon.routes.split()
    form = FernForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                changed = change_fern(
                    taxon=taxon, name=form.name(), facts=form.facts(), now=clock.now()
                )
                note(request, "fern changed", about=taxon.code, **form_changes(form))
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"{changed.name.text} is noted anew; its dates follow.")
            return redirect("batches:fern", taxon.code)
    return form_page(
        request,
        form,
        title=f"Change {taxon.code}",
        submit="Store it",
        crumbs=[
            ("Ferns", reverse("batches:ferns")),
            (taxon.code, reverse("batches:fern", args=[taxon.code])),
            ("Change", ""),
        ],
        lead="Its code stays: it stands on labels. The dates of its trays follow what you change.",
    )


@for_office
@require_http_methods(["GET", "POST"])
def fern_windows(request: HttpRequest, code: str) -> HttpResponse:
    """Set a fern's own days from stage to stage; an emptied line goes back to the default."""
    taxon = Taxon.objects.filter(code=code).first()
    if taxon is None:
        return not_by_that_code(request, code, kind="taxon", page="fern-windows")
    windows = windows_of(taxon=taxon)
    groups = own_days_forms(windows, taxon=taxon, data=request.POST or None)
    lines = [form for _, forms in groups for form in forms]
    wrong = [form for form in lines if not form.is_valid()]
    if request.method == "POST" and not wrong:
        own = [days for form in lines if (days := form.own_days()) is not None]
        before = _own_days(taxon)
        with transaction.atomic():
            keep_own_days(taxon=taxon, days=own, now=clock.now())
            note(request, "own days set", about=taxon.code, before=before, after=_own_days(taxon))
        messages.success(request, f"The days of {taxon.code} are stored; its trays' dates follow.")
        return redirect("batches:fern", taxon.code)
    errors = [words for form in lines for words in form.errors_in_words()]
    context = {"taxon": taxon, "groups": groups, "errors": errors}
    status = HTTPStatus.UNPROCESSABLE_ENTITY if errors else HTTPStatus.OK
    return render(request, "batches/ferns/windows.html", context, status=status)


def _own_days(taxon: Taxon) -> dict[str, list[float | None]]:
    """Return a fern's own days by route and stage, as they stand in the notes of changes."""
    return {
        f"{own.route} {own.stage}": [own.early, own.usual, own.late, own.look_every]
        for own in taxon.own_windows.order_by("route", "stage")
    }
