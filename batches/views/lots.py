"""The lots of spores: which lie in the drawer, and one lot with all that is done to it."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.lot import LotForm
from batches.forms.lot_deeds import LotDeeds
from batches.models import Source, SporeLot, Taxon
from batches.services.lot_list import SHOWN, due_with, lot_rows, lots_shown, results_of
from batches.services.lots import batches_of, collect_lot, sow_by_of, sowing_warning
from batches.services.suspicion import trays_under_suspicion
from batches.views import clock
from batches.views.access import for_hands
from batches.views.by_code import not_by_that_code
from batches.views.form_page import form_page, status_of

LOTS_A_PAGE = 50
CUTTING = (
    "Cut away from your hand and keep fronds of one fern together. On land of others, and of "
    "protected ferns: the owner's leave and a permit first; the authority decides."
)


@for_hands
@require_GET
def lots(request: HttpRequest) -> HttpResponse:
    """List the lots, in store unless asked otherwise, with what is due with each."""
    today = clock.today()
    show = request.GET.get("show", "kept")
    if show not in dict(SHOWN):
        show = "kept"
    fern = request.GET.get("fern", "")[:80]
    found = lots_shown(show=show, fern=fern, on=today)
    page = Paginator(found, LOTS_A_PAGE).get_page(request.GET.get("page"))
    rows = lot_rows(lots=page.object_list, on=today)
    nothing_yet = not rows and not SporeLot.objects.exists()
    context = {
        "page": page,
        "rows": rows,
        "due_count": sum(row.due is not None for row in rows),
        "show": show,
        "shown": SHOWN,
        "fern": fern,
        "today": today,
        "nothing_yet": nothing_yet,
        "new_href": reverse("batches:lot-new"),
        "steps": _first_steps() if nothing_yet else [],
    }
    return render(request, "batches/lots/page.html", context)


def _first_steps() -> list[dict[str, object]]:
    return [
        {
            "word": "Name the fern.",
            "href": reverse("batches:ferns"),
            "done": Taxon.objects.exists(),
        },
        {
            "word": "Write down the stock plant, or where the spores come from.",
            "href": reverse("batches:stock-plants"),
            "done": Source.objects.exists(),
        },
        {"word": "Write down the lot on the day the fronds are cut."},
        {"word": "Clean it when it is dry, weigh it and store it cold and dry."},
    ]


@for_hands
@require_http_methods(["GET", "POST"])
def lot_new(request: HttpRequest) -> HttpResponse:
    """Write down a new lot."""
    if not Source.objects.exists():
        messages.warning(request, "A lot comes from somewhere: write down its origin first.")
        return redirect(f"{reverse('batches:stock-plant-new')}?then=lot")
    initial = {
        "source": request.GET.get("origin", ""),
        "collected_on": clock.today(),
        "collected_by": request.user.get_username(),
        "method": "fronds in paper",
    }
    form = LotForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        found = dict(form.cleaned_data)
        try:
            stored = collect_lot(by=found.pop("collected_by"), now=clock.now(), **found)
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, stored.message)
            if stored.warning:
                messages.warning(request, stored.warning)
            return redirect("batches:lot", stored.lot.code)
    return form_page(
        request,
        form,
        title="New lot",
        submit="Store the lot",
        crumbs=[("Lots", reverse("batches:lots")), ("New lot", "")],
        lead="One fern, from one origin, on one day.",
        cautions=[CUTTING],
        template="batches/lots/new.html",
    )


@for_hands
@require_http_methods(["GET", "POST"])
def lot(request: HttpRequest, code: str) -> HttpResponse:
    """Show one lot; a POST does the deed it names: clean, sow or count a sample, mend, end."""
    found = SporeLot.objects.for_list().filter(code=code).first()
    if found is None:
        return not_by_that_code(request, code, kind="lot", page="lot")
    deeds = LotDeeds(found, today=clock.today())
    if request.method == "POST":
        test = _uuid(request.POST.get("test", ""))
        if not deeds.bind(request.POST, deed=request.POST.get("deed", ""), test=test):
            raise Http404("The page knows no such deed.")
        message = deeds.do(now=clock.now())
        if message is not None:
            messages.success(request, message.said)
            if message.warning:
                messages.warning(request, message.warning)
            return redirect("batches:lot", found.code)
    context = _context(found, deeds)
    return render(request, "batches/lots/lot.html", context, status=status_of(deeds.bound))


def _context(found: SporeLot, deeds: LotDeeds) -> dict[str, object]:
    today = clock.today()
    return {
        "lot": found,
        "due": due_with(lot=found, on=today),
        "warning": sowing_warning(lot=found, on=today),
        "sow_by": sow_by_of(found),
        "results": results_of(found.germination_tests.all()),
        "waiting": deeds.counts,
        "deeds": deeds.forms,
        "batches": batches_of(lot=found),
        "suspects": list(trays_under_suspicion(lot=found).order_by("code")),
        "today": today,
    }


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
