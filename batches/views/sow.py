"""Start a batch: choose what it is raised from, then one form for that way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.sow import BoughtInForm, BulbilsForm, DivisionForm, SporesForm, StartForm
from batches.models import PlannedSowing, Source, SporeLot
from batches.services.before_start import about_lot, about_source, containers_used
from batches.services.free_places import bench_rooms
from batches.services.sowing import Started, buy_in, divide, peg_down, sow_spores
from batches.views import clock
from batches.views.access import Access, access_of, for_hands
from batches.views.form_page import form_page

MIX = (
    "Potting mix: its dust harms the lungs and it can carry Legionella. Wet it first, wear a "
    "respirator, wash your hands; local rules decide."
)
BLEACH = (
    "Washing trays with bleach: by its label, in moving air, never with acids or other cleaners."
)
BLADES = "Cut away from your hand, and clean the blade between plants."
HEALTH = (
    "Look bought plants over apart from your own and keep their plant passports; plant health law "
    "and movement controls decide."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """A way of starting a batch, as its page words it."""

    word: str
    glyph: str
    title: str
    text: str
    submit: str
    form: type[StartForm]
    trays: int
    cautions: tuple[str, ...]


WAYS = {
    way.word: way
    for way in (
        Way(
            word="spores",
            glyph="sown",
            title="From spores",
            text="A lot from the drawer, sown into covered trays, an unsown control beside them.",
            submit="Sow it",
            form=SporesForm,
            trays=4,
            cautions=(MIX, BLEACH),
        ),
        Way(
            word="bulbils",
            glyph="pegged_down",
            title="From bulbils",
            text="Fronds pegged down on moist medium; plantlets are counted when they are lifted.",
            submit="They are pegged down",
            form=BulbilsForm,
            trays=2,
            cautions=(MIX, BLADES),
        ),
        Way(
            word="division",
            glyph="divided",
            title="By division",
            text="Crowns or rhizomes of a stock plant, divided.",
            submit="It is divided",
            form=DivisionForm,
            trays=1,
            cautions=(MIX, BLADES),
        ),
        Way(
            word="bought-in",
            glyph="pricked_out",
            title="Bought in",
            text="Liners or lab plants, counted as they arrive, pricked out or potted up.",
            submit="Take them in",
            form=BoughtInForm,
            trays=1,
            cautions=(HEALTH, MIX),
        ),
    )
}


@for_hands
@require_GET
def sow(request: HttpRequest) -> HttpResponse:
    """Offer the ways to start a batch, and the sowings that were planned."""
    planned = PlannedSowing.objects.filter(batch__isnull=True, dropped_on__isnull=True)
    context = {
        "ways": WAYS.values(),
        "planned": planned.select_related("taxon").order_by("sow_on", "pk"),
        "may_plan": access_of(request) >= Access.OFFICE,
    }
    return render(request, "batches/sow/page.html", context)


@for_hands
@require_http_methods(["GET", "POST"])
def sow_route(request: HttpRequest, route: str) -> HttpResponse:
    """Show the form of one way; a POST starts the batch and leads to its page and labels."""
    way = WAYS.get(route)
    if way is None:
        raise Http404("A batch is raised from spores, bulbils, by division, or bought in.")
    missing = _missing(way)
    if missing is not None:
        return missing
    rooms, today = bench_rooms(), clock.today()
    if request.method == "POST" and "ask" not in request.POST:
        form = way.form(request.POST, rooms=rooms, today=today)
        started = _start(request, way, form) if form.is_valid() else None
        if started is not None:
            messages.success(request, started.message)
            if started.warning:
                messages.warning(request, started.warning)
            return redirect("batches:batch", started.batch.code)
    else:
        initial = request.POST.dict() if request.method == "POST" else _initial(request, way)
        form = way.form(rooms=rooms, today=today, initial=initial)
    return form_page(
        request,
        form,
        title=way.title,
        submit=way.submit,
        crumbs=[("Start a batch", reverse("batches:sow")), (way.title, "")],
        lead=way.text,
        cautions=way.cautions,
        template="batches/sow/route.html",
        way=way,
        rooms=rooms,
        no_benches=not rooms,
        containers=containers_used(),
        about=_about(_chosen(form)),
    )


@for_hands
@require_GET
def sow_about(request: HttpRequest) -> HttpResponse:
    """Show what to know of the lot or the origin that was chosen just now."""
    context = {"about": _about({name: request.GET.get(name, "") for name in ("lot", "source")})}
    return render(request, "batches/sow/_about.html", context)


def _missing(way: Way) -> HttpResponse | None:
    """Send to what has to be there first: a lot to sow, an origin to start from."""
    if way.word == "spores":
        return None if SporeLot.objects.in_store().exists() else redirect("batches:lots")
    return None if Source.objects.exists() else redirect("batches:stock-plants")


def _initial(request: HttpRequest, way: Way) -> dict[str, Any]:
    asked = request.GET
    found: dict[str, Any] = {"how_many": way.trays}
    found |= {name: asked[name] for name in ("lot", "source") if name in asked}
    number = asked.get("planned", "")
    planned = PlannedSowing.objects.filter(pk=number).first() if number.isdecimal() else None
    if planned is not None:
        lot = SporeLot.objects.in_store().filter(taxon=planned.taxon).first()
        found |= {"planned": planned.pk, "how_many": planned.trays}
        found |= {"lot": lot.code} if lot is not None else {}
    return found


def _start(request: HttpRequest, way: Way, form: StartForm) -> Started | None:
    """Start the batch; an error goes onto the form with what was typed kept."""
    found = form.cleaned_data
    told: dict[str, Any] = form.common()
    told |= {"by": request.user.get_username(), "now": clock.now()}
    try:
        if way.word == "spores":
            planned = PlannedSowing.objects.filter(pk=found["planned"] or 0).first()
            return sow_spores(
                lot=found["lot"],
                medium=found["medium"],
                sown_mg=found["sown_mg"],
                planned=planned,
                **told,
            )
        if way.word == "bought-in":
            return buy_in(source=found["source"], stage=found["stage"], **told)
        deed = peg_down if way.word == "bulbils" else divide
        return deed(source=found["source"], medium=found["medium"], **told)
    except NurseryError as error:
        form.refuse(error)
        return None


def _chosen(form: StartForm) -> dict[str, str]:
    """Return the codes of the lot and of the origin that stand in the form."""
    return {
        name: str(form[name].value() or "") for name in ("lot", "source") if name in form.fields
    }


def _about(chosen: dict[str, str]) -> object:
    today = clock.today()
    if chosen.get("lot"):
        lot = SporeLot.objects.for_list().filter(code=chosen["lot"]).first()
        return None if lot is None else about_lot(lot=lot, on=today)
    if chosen.get("source"):
        source = Source.objects.select_related("taxon").filter(code=chosen["source"]).first()
        return None if source is None else about_source(source=source)
    return None
