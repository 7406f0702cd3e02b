"""The bench map: what stands where, tap for a card, move by tapping the tray and then the place."""

from __future__ import annotations

from http import HTTPStatus

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET, require_POST

from batches.core.errors import NurseryError
from batches.core.signs import SIGN_WORDS, TROUBLES, Sign
from batches.models import Bench, House, Taxon, Tray
from batches.services.bench_map import BenchPlan, cell_of, house_plans, suspects_among
from batches.services.holds import held_now
from batches.services.laid_out import laid_out_ahead
from batches.services.map_filters import HELD, SUSPECT, Filters, benches_of_map, pages_of
from batches.services.moves import move
from batches.services.shut_places import shut_places
from batches.templatetags.bench_grid import place_html
from batches.templatetags.frond import in_words
from batches.views import clock
from batches.views.access import for_hands


@for_hands
@require_GET
def bench_map(request: HttpRequest) -> HttpResponse:
    """Show the benches in walking order, narrowed to what the filters ask for."""
    filters = _filters(request)
    pages = pages_of(benches_of_map(filters=filters, today=clock.today()))
    page = Paginator(pages, 1).get_page(request.GET.get("page"))
    laid_out = [group for group in laid_out_ahead() if filters.shows(group)]
    houses = house_plans(
        today=clock.today(), now=clock.now(), filters=filters, benches=page.object_list[0],
        laid_out=laid_out,
    )  # fmt: skip
    context = {
        "houses": houses,
        "page": page,
        "filters": filters,
        "all_houses": House.objects.all(),
        "ferns": Taxon.objects.filter(pk__in=Tray.objects.active().values("batch__taxon")),
        "signs": [
            (SUSPECT, "under suspicion (rogue fern)"),
            (HELD, "held back"),
            *((sign.value, SIGN_WORDS[sign]) for sign in Sign if sign in TROUBLES),
        ],
        "trays": sum(bench.trays for house in houses for bench in house.benches),
        "nowhere": Tray.objects.active().filter(bench__isnull=True).with_fern()[:200],
        "laid_out_nowhere": [group for group in laid_out if group.bench is None],
        "today": clock.today(),
    }
    return render(request, "batches/bench_map/page.html", context)


@for_hands
@require_GET
def card(request: HttpRequest, code: str) -> HttpResponse:
    """Show one tray's card beside the map."""
    tray = get_object_or_404(Tray.objects.with_fern(), code=code)
    shut = shut_places(on=clock.today(), now=clock.now())
    holds = held_now().filter(tray=tray)
    held = frozenset(holds.values_list("tray", flat=True))
    context = {
        "tray": tray,
        "cell": cell_of(
            tray, today=clock.today(), shut=shut, suspects=suspects_among([tray]), held=held
        ),
        "shut": shut.of(tray),
        "holds": holds,
        "today": clock.today(),
    }
    return render(request, "batches/bench_map/_tray_card.html", context)


@for_hands
@require_POST
def move_tray(request: HttpRequest) -> JsonResponse:
    """Move a tray to a free place; answers with the two places to draw anew."""
    tray = get_object_or_404(Tray.objects.with_fern(), code=request.POST.get("tray", ""))
    bench = get_object_or_404(Bench, code=request.POST.get("bench", ""))
    before = (tray.bench, tray.row, tray.column)
    try:
        row, column = int(request.POST.get("row", "")), int(request.POST.get("column", ""))
        revision = int(request.POST.get("revision", ""))
    except ValueError:
        error = "The place could not be read. Nothing was moved; tap the tray and the place again."
        return JsonResponse({"error": in_words(error)}, status=HTTPStatus.BAD_REQUEST)
    try:
        move(
            trays=[tray],
            bench=bench,
            row=row,
            column=column,
            on=clock.today(),
            now=clock.now(),
            by=request.user.get_username(),
            revisions={tray.pk: revision},
        )
    except NurseryError as error:
        return JsonResponse({"error": in_words(error.message)}, status=HTTPStatus.CONFLICT)
    drawn_anew = {bench.pk} if before[0] is None else {bench.pk, before[0].pk}
    benches = list(Bench.objects.select_related("house").filter(pk__in=drawn_anew))
    plans = {
        plan.code: plan
        for house in house_plans(
            today=clock.today(), now=clock.now(), filters=_filters(request), benches=benches
        )
        for plan in house.benches
    }
    places = [_drawn(plans[bench.code], row, column)]
    if before[0] is not None and before[1] and before[2]:
        places.append(_drawn(plans[before[0].code], before[1], before[2]))
    words = f"{tray.code} now stands on {bench.code}, row {row}, column {column}."
    return JsonResponse({"places": places, "message": in_words(words)})


def _drawn(plan: BenchPlan, row: int, column: int) -> dict[str, str | int]:
    return {
        "bench": plan.code, "row": row, "column": column, "html": place_html(plan, row, column)
    }  # fmt: skip


def _filters(request: HttpRequest) -> Filters:
    asked = request.GET
    return Filters(
        house=asked.get("house", ""),
        fern=asked.get("fern", ""),
        batch=asked.get("batch", ""),
        sign=asked.get("sign", ""),
        late=asked.get("late", "") == "yes",
    )
