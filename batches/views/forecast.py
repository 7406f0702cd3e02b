"""Forecast: what becomes ready, low, likely and high; orders laid against it; how it held."""

from __future__ import annotations

import time
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches.charts import pots as charts
from batches.core.forecast import Band, FernForecast
from batches.models import Taxon, Tray
from batches.services.days import week_words
from batches.services.forecasting import NurseryForecast, forecast_nursery
from batches.services.order_outlooks import last_wanted, order_outlooks
from batches.services.past_forecasts import MOST_DAYS, PastBand, hit_rate, past_bands
from batches.views import clock
from batches.views.access import for_office

WEEKS = 52
MOST_WEEKS = 130
#: fewer draws for more trays: a page comes in seconds, and many trays need few
MOST_DRAWS, FEWEST_DRAWS, DRAWS_TIMES_TRAYS = 1_000, 300, 3_000_000
#: seconds after which no further past day is tried on the page
PATIENCE_S = 12.0


@for_office
@require_GET
def forecast(request: HttpRequest) -> HttpResponse:
    """Show what becomes ready in four-weekly steps, the weeks behind “more”, and the orders."""
    today = clock.today()
    last = last_wanted()
    weeks = WEEKS
    if last is not None:
        weeks = min(max(weeks, (last - today).days // 7 + 1), MOST_WEEKS)
    trays = max(Tray.objects.active().count(), 1)
    draws = min(MOST_DRAWS, max(FEWEST_DRAWS, DRAWS_TIMES_TRAYS // trays))
    found = forecast_nursery(on=today, weeks=weeks, draws=draws)
    code = request.GET.get("fern", "")[:32]
    taxon = Taxon.objects.filter(code=code).first() if code else None
    drawn = found.ferns.get(taxon) if taxon else None
    context: dict[str, Any] = {
        "today": today,
        "weeks": weeks,
        "taxon": taxon,
        "unknown": code if code and taxon is None else "",
        "ferns": [_fern(found, fern) for fern in found.ferns],
        "orders": order_outlooks(found=found),
        "detail": _detail(found, drawn) if drawn is not None else None,
        "basis": found.bases.get(taxon) if taxon else None,
    }
    return render(request, "batches/forecast/page.html", context)


@for_office
@require_GET
def back_test(request: HttpRequest) -> HttpResponse:
    """Show how often this nursery's own past forecasts held, and to which side they missed."""
    begun = time.monotonic()
    tried: list[tuple[PastBand, ...]] = []
    for bands in past_bands(today=clock.today()):
        tried.append(bands)
        if time.monotonic() - begun > PATIENCE_S:
            break
    rows = tuple(band for bands in tried for band in bands)
    context = {"rows": rows, "rate": hit_rate(rows), "days": len(tried), "most_days": MOST_DAYS}
    return render(request, "batches/forecast/back_test.html", context)


def _fern(found: NurseryForecast, fern: Taxon) -> dict[str, Any]:
    drawn = found.ferns[fern]
    bands = drawn.cumulative()
    at = [week for week in (4, 12, 26, 52) if week <= found.weeks]
    return {
        "fern": fern,
        "trays": found.bases[fern].trays,
        "bands": [(week, bands[week - 1]) for week in at],
    }


def _detail(found: NurseryForecast, drawn: FernForecast) -> dict[str, Any]:
    cumulative, weekly = drawn.cumulative(), drawn.weekly()
    names = [week_words(found.last_day(week)) for week in range(1, found.weeks + 1)]
    fours = []
    for place, band in enumerate(drawn.four_weekly()):
        last = min(4 * place + 4, found.weeks)
        fours.append((found.last_day(last), band, cumulative[last - 1]))
    return {
        "fours": fours,
        "weeks": list(zip(names, weekly, cumulative, strict=True)),
        "figure": charts.forecast_fan(names, cumulative),
        "said": _in_a_sentence(found, cumulative),
    }


def _in_a_sentence(found: NurseryForecast, bands: tuple[Band, ...]) -> str:
    week = min(26, found.weeks)
    band = bands[week - 1]
    return (
        f"In the next {week} weeks {band.likely:,.0f} pots are likely to become ready, at the low "
        f"end {band.low:,.0f}, at the high end {band.high:,.0f}: in eight of ten such cases it "
        "comes out between the two."
    )
