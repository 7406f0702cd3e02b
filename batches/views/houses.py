"""The houses and benches, drawn as they stand and walked past in order."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.house import BenchForm, HouseForm, NewBenchForm, NewHouseForm
from batches.models import Bench, House, Tray
from batches.services.bench_drafts import bench_draft
from batches.services.free_places import count_free
from batches.services.houses import (
    build_alike,
    build_bench,
    build_house,
    change_bench,
    change_house,
    comes_after,
    house_lines,
    set_in_walk,
)
from batches.views import clock
from batches.views.access import Access, access_of, for_hands, for_office
from batches.views.by_code import not_by_that_code
from batches.views.first_steps import shown_next
from batches.views.form_page import form_page
from batches.views.noting import form_changes, note

TRAYS_A_PAGE = 100
BENCH_FORM = "batches/houses/bench_form.html"


@for_hands
@require_GET
def houses(request: HttpRequest) -> HttpResponse:
    """List the houses with their benches."""
    may_edit = access_of(request) >= Access.OFFICE
    context = {
        "houses": house_lines(),
        "may_edit": may_edit,
        "new_href": reverse("batches:house-new") if may_edit else "",
        "steps": [
            {"word": "Draw a house: a glasshouse, a tunnel, a frame."},
            {"word": "Draw its benches by rows and columns of places."},
            {"word": "Say in which order one walks past them."},
        ],
        "next_step": shown_next(request, after="houses"),
    }
    return render(request, "batches/houses/page.html", context)


@for_hands
@require_GET
def bench(request: HttpRequest, code: str) -> HttpResponse:
    """Show a bench and what stands on it."""
    found = Bench.objects.select_related("house").filter(code=code).first()
    if found is None:
        return not_by_that_code(request, code, kind="bench", page="bench")
    trays = Tray.objects.active().with_fern().filter(bench=found).order_by("row", "column", "code")
    context = {
        "bench": found,
        "free": count_free(bench=found),
        "page": Paginator(trays, TRAYS_A_PAGE).get_page(request.GET.get("page")),
        "stock_plants": found.stock_plants.select_related("taxon"),
        "may_edit": access_of(request) >= Access.OFFICE,
    }
    return render(request, "batches/houses/bench.html", context)


@for_office
@require_http_methods(["GET", "POST"])
def house_new(request: HttpRequest) -> HttpResponse:
    """Draw a new house."""
    form = NewHouseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            house = build_house(now=clock.now(), **form.cleaned_data)
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"House {house.code} is drawn. Now its first bench.")
            return redirect(f"{reverse('batches:bench-new')}?house={house.code}")
    crumbs = [_houses(), ("New house", "")]
    return form_page(request, form, title="New house", submit="Store the house", crumbs=crumbs)


@for_office
@require_http_methods(["GET", "POST"])
def house_edit(request: HttpRequest, code: str) -> HttpResponse:
    """Note anew what is known of a house."""
    house = House.objects.filter(code=code).first()
    if house is None:
        return not_by_that_code(request, code, kind="house", page="house-edit")
    initial = {name: getattr(house, name) for name in HouseForm.base_fields}
    form = HouseForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with transaction.atomic():
            change_house(house=house, **form.cleaned_data)
            note(request, "house changed", about=house.code, **form_changes(form))
        messages.success(request, f"House {house.code} is noted anew.")
        return redirect("batches:houses")
    crumbs = [_houses(), (house.code, "")]
    title = f"Change house {house.code}"
    return form_page(request, form, title=title, submit="Store it", crumbs=crumbs)


@for_office
@require_http_methods(["GET", "POST"])
def bench_new(request: HttpRequest) -> HttpResponse:
    """Draw a new bench."""
    if not House.objects.exists():
        messages.warning(request, "A bench stands in a house: draw the house first.")
        return redirect("batches:house-new")
    form = NewBenchForm(request.POST or None, initial={"house": request.GET.get("house", "")})
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        try:
            bench = build_bench(
                house=found["house"],
                code=found["code"],
                now=clock.now(),
                record_id=found["record_id"],
                name=found["name"],
                rows=found["rows"],
                columns=found["columns"],
                after=form.walk_after(),
                first=found["walk"] == "first",
            )
            more = build_alike(bench=bench, more=form.more(), now=clock.now())
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, _drawn(bench, more))
            return redirect("batches:houses")
    crumbs = [_houses(), ("New bench", "")]
    return form_page(
        request,
        form,
        title="New bench",
        submit="Store the bench",
        crumbs=crumbs,
        template=BENCH_FORM,
        draft=bench_draft(form["rows"].value(), form["columns"].value()),
    )


@for_office
@require_GET
def bench_drawing(request: HttpRequest) -> HttpResponse:
    """Draw a bench of so many rows and columns, while its form is filled in."""
    draft = bench_draft(request.GET.get("rows"), request.GET.get("columns"))
    return render(request, "batches/houses/_draft.html", {"draft": draft})


def _drawn(bench: Bench, more: tuple[Bench, ...]) -> str:
    if not more:
        return f"Bench {bench.code} is drawn."
    return f"Benches {bench.code} to {more[-1].code} are drawn, {len(more) + 1} of them."


@for_office
@require_http_methods(["GET", "POST"])
def bench_edit(request: HttpRequest, code: str) -> HttpResponse:
    """Draw a bench anew, or give it another place in the walk."""
    found = Bench.objects.select_related("house").filter(code=code).first()
    if found is None:
        return not_by_that_code(request, code, kind="bench", page="bench-edit")
    before = comes_after(found)
    initial = {
        "name": found.name,
        "rows": found.rows,
        "columns": found.columns,
        "house": found.house.code,
        "walk": "first" if before is None else before.code,
    }
    form = BenchForm(request.POST or None, initial=initial, bench=found)
    if request.method == "POST" and form.is_valid() and _store_bench(request, found, before, form):
        messages.success(request, f"Bench {found.code} is noted anew.")
        return redirect("batches:bench", found.code)
    crumbs = [_houses(), (found.code, reverse("batches:bench", args=[found.code])), ("Change", "")]
    return form_page(
        request,
        form,
        title=f"Change bench {found.code}",
        submit="Store it",
        crumbs=crumbs,
        template=BENCH_FORM,
        draft=bench_draft(form["rows"].value(), form["columns"].value()),
    )


def _store_bench(request: HttpRequest, bench: Bench, before: Bench | None, form: BenchForm) -> bool:
    given = form.cleaned_data
    try:
        with transaction.atomic():
            change_bench(
                bench=bench,
                house=given["house"],
                name=given["name"],
                rows=given["rows"],
                columns=given["columns"],
            )
            after = form.walk_after()
            if after != before:
                set_in_walk(bench=bench, after=after)
            note(request, "bench changed", about=bench.code, **form_changes(form))
    except NurseryError as error:
        form.refuse(error)
        return False
    return True


def _houses() -> tuple[str, str]:
    return "Houses and benches", reverse("batches:houses")
