"""The stock plants and other origins: what is known of each, and the look at its sori."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.stock_plant import NewOriginForm, OriginForm, SoriForm
from batches.models import Source, Taxon
from batches.models.source import SOURCE_KINDS
from batches.services.origin_list import origin_rows, origins_shown
from batches.services.stock_plants import (
    came_of,
    change_origin,
    look_at_sori,
    note_origin,
    origin_warning,
    sori_due,
)
from batches.views import clock
from batches.views.access import for_hands
from batches.views.by_code import not_by_that_code
from batches.views.form_page import form_page, status_of
from batches.views.noting import form_changes, note

ORIGINS_A_PAGE = 50
LAW = (
    "Wild and protected plants: the owner's leave, a permit and, across borders, CITES papers may "
    "be needed. The authority decides."
)


@for_hands
@require_GET
def stock_plants(request: HttpRequest) -> HttpResponse:
    """List the origins of every kind."""
    kind, fern = request.GET.get("kind", ""), request.GET.get("fern", "")[:80]
    found = origins_shown(kind=kind, fern=fern)
    page = Paginator(found, ORIGINS_A_PAGE).get_page(request.GET.get("page"))
    rows = origin_rows(sources=list(page.object_list))
    nothing_yet = not rows and not Source.objects.exists()
    context = {
        "page": page,
        "rows": rows,
        "kind": kind,
        "kinds": SOURCE_KINDS,
        "fern": fern,
        "nothing_yet": nothing_yet,
        "new_href": reverse("batches:stock-plant-new"),
        "steps": [
            {
                "word": "Name the fern first.",
                "href": reverse("batches:ferns"),
                "done": nothing_yet and Taxon.objects.exists(),
            },
            {"word": "Write down the plant, its place and the weeks in which its sori ripen."},
            {"word": "Today says when to look at the sori; then collect a lot."},
        ],
    }
    return render(request, "batches/stock_plants/page.html", context)


@for_hands
@require_http_methods(["GET", "POST"])
def stock_plant(request: HttpRequest, code: str) -> HttpResponse:
    """Show an origin; a POST notes a look at its sori."""
    source = Source.objects.select_related("taxon", "bench").filter(code=code).first()
    if source is None:
        return not_by_that_code(request, code, kind="source", page="stock-plant")
    form = SoriForm(request.POST or None, initial={"on": clock.today()})
    if request.method == "POST" and form.is_valid():
        try:
            look_at_sori(source=source, on=form.cleaned_data["on"], now=clock.now())
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"Looked at the sori of {source.code}.")
            return redirect("batches:stock-plant", source.code)
    lots, batches = came_of(source=source)
    context = {
        "source": source,
        "form": form,
        "due": sori_due(source=source, on=clock.today()),
        "warning": origin_warning(source=source),
        "lots": lots,
        "batches": batches,
    }
    return render(request, "batches/stock_plants/origin.html", context, status=status_of(form))


@for_hands
@require_http_methods(["GET", "POST"])
def stock_plant_new(request: HttpRequest) -> HttpResponse:
    """Write down a new origin; it may lead on to the lot collected from it."""
    asked = request.GET
    initial = {"taxon": asked.get("fern", ""), "kind": "stock_plant"}
    form = NewOriginForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            stored = note_origin(
                taxon=form.cleaned_data["taxon"],
                facts=form.facts(),
                now=clock.now(),
                own_code=form.cleaned_data["own_code"],
                record_id=form.cleaned_data["record_id"],
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, stored.message)
            if stored.warning:
                messages.warning(request, stored.warning)
            if asked.get("then") == "lot":
                return redirect(f"{reverse('batches:lot-new')}?origin={stored.source.code}")
            return redirect("batches:stock-plant", stored.source.code)
    return form_page(
        request,
        form,
        title="New origin",
        submit="Store the origin",
        crumbs=[("Stock plants and origins", reverse("batches:stock-plants")), ("New origin", "")],
        lead="A stock plant, several mothers pooled, a wild place, an exchange or a purchase.",
        cautions=[LAW],
    )


@for_hands
@require_http_methods(["GET", "POST"])
def stock_plant_edit(request: HttpRequest, code: str) -> HttpResponse:
    """Note anew what is known of an origin."""
    source = Source.objects.select_related("taxon", "bench").filter(code=code).first()
    if source is None:
        return not_by_that_code(request, code, kind="source", page="stock-plant-edit")
    names = set(OriginForm.base_fields) - {"record_id"}
    initial = {name: getattr(source, name) for name in names}
    initial["bench"] = source.bench.code if source.bench is not None else ""
    form = OriginForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                stored = change_origin(source=source, facts=form.facts())
                note(request, "origin changed", about=source.code, **form_changes(form))
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, stored.message)
            return redirect("batches:stock-plant", source.code)
    return form_page(
        request,
        form,
        title=f"Change origin {source.code}",
        submit="Store it",
        crumbs=[
            ("Stock plants and origins", reverse("batches:stock-plants")),
            (source.code, reverse("batches:stock-plant", args=[source.code])),
            ("Change", ""),
        ],
        fern=source.taxon,
        cautions=[LAW],
    )
