"""The batches: what was started together, and what stands of it."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.core.stages import ROUTE_WORDS
from batches.forms.batch import ConfirmTrueForm, SoldAsForm
from batches.forms.nursery_form import NurseryForm
from batches.models import Batch
from batches.services.batch_list import batch_rows, batches_shown, trays_of
from batches.services.sold_names import confirm_true, may_be_confirmed, name_batch
from batches.views import clock
from batches.views.access import for_hands
from batches.views.by_code import not_by_that_code
from batches.views.form_page import status_of

BATCHES_A_PAGE = 50


@for_hands
@require_GET
def batches(request: HttpRequest) -> HttpResponse:
    """List the batches, standing ones unless asked otherwise."""
    asked = request.GET
    show = "all" if asked.get("show") == "all" else ""
    route = asked.get("route", "")
    route = route if route in set(ROUTE_WORDS) else ""
    fern = asked.get("fern", "")[:80]
    found = batches_shown(standing=not show, fern=fern, route=route)
    page = Paginator(found, BATCHES_A_PAGE).get_page(asked.get("page"))
    rows = batch_rows(batches=list(page.object_list))
    context = {
        "page": page,
        "rows": rows,
        "show": show,
        "route": route,
        "routes": [(str(name), word) for name, word in ROUTE_WORDS.items()],
        "fern": fern,
        "nothing_yet": not rows and not Batch.objects.exists(),
        "new_href": reverse("batches:sow"),
        "steps": [
            {
                "word": "Draw the benches, so that trays get a place.",
                "href": reverse("batches:houses"),
            },
            {
                "word": "Write down a lot of spores, or a stock plant.",
                "href": reverse("batches:lots"),
            },
            {"word": "Start the batch; its code and its trays' codes are given out."},
            {"word": "Print the labels before the next batch is opened."},
        ],
    }
    return render(request, "batches/batches/page.html", context)


@for_hands
@require_http_methods(["GET", "POST"])
def batch(request: HttpRequest, code: str) -> HttpResponse:
    """Show one batch; a POST confirms it true, or notes its name and notes anew."""
    found = Batch.objects.for_list().filter(code=code).first()
    if found is None:
        return not_by_that_code(request, code, kind="batch", page="batch")
    deeds = _deeds(found)
    deed = request.POST.get("deed", "")
    bound: NurseryForm | None = None
    if request.method == "POST":
        if deed not in {"confirm", "sold_as"}:
            raise Http404("The page knows no such deed.")
        form_class = ConfirmTrueForm if deed == "confirm" else SoldAsForm
        bound = form_class(request.POST, prefix=deed)
        deeds[deed] = bound
        if bound.is_valid() and _do(request, found, deed, bound):
            return redirect("batches:batch", found.code)
    trays = list(trays_of(batch=found))
    standing = [tray for tray in trays if tray.is_active]
    lot = found.spore_lot
    context = {
        "batch": found,
        "origin": found.source if lot is None else lot.source,
        "trays": trays,
        "standing": len(standing),
        "ended": len(trays) - len(standing),
        "unlabelled": sum(tray.label_printed_on is None for tray in standing),
        "codes": list(found.laid_out.not_filled()),
        "deeds": deeds,
        "today": clock.today(),
    }
    return render(request, "batches/batches/batch.html", context, status=status_of(bound))


def _deeds(found: Batch) -> dict[str, NurseryForm]:
    initial = {"sold_as": found.sold_as, "notes": found.notes}
    deeds: dict[str, NurseryForm] = {"sold_as": SoldAsForm(prefix="sold_as", initial=initial)}
    if may_be_confirmed(found):
        deeds["confirm"] = ConfirmTrueForm(prefix="confirm", initial={"on": clock.today()})
    return deeds


def _do(request: HttpRequest, found: Batch, deed: str, form: NurseryForm) -> bool:
    try:
        if deed == "confirm":
            kept = confirm_true(batch=found, on=form.cleaned_data["on"], now=clock.now())
        else:
            kept = name_batch(batch=found, **form.cleaned_data)
    except NurseryError as error:
        form.refuse(error)
        return False
    messages.success(request, kept.message)
    return True
