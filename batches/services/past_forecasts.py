"""How often did this nursery's own past forecasts hold, and to which side did they miss?

On each of some past days the forecast is made again from what was seen by then, and laid against
the pots that became ready in the weeks after it. The trays' own dates are taken in the middle
between the two looks.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.forecast import Band
from batches.core.stages import Stage
from batches.models import StageTransition, Taxon, Tray
from batches.services.forecasting import forecast_nursery
from batches.services.survival_rates import trays_passed

WEEKS = 12
DRAWS = 400
#: past days are this far apart, and so many at the most
APART = timedelta(days=56)
MOST_DAYS = 12
#: a first tray that old makes a past day worth trying
FIRST_AFTER = timedelta(days=365)


@dataclass(frozen=True, slots=True, kw_only=True)
class PastBand:
    """What was forecast for one fern on a past day, and what came."""

    on: date
    taxon: Taxon
    band: Band
    came: int

    @property
    def verdict(self) -> str:
        """“held”, “more came” (above high) or “fewer came” (below low)."""
        if self.came > self.band.high:
            return "more came"
        return "fewer came" if self.came < self.band.low else "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class HitRate:
    """How many of the bands held, and how many were missed on either side."""

    bands: int
    held: int
    fewer_came: int
    more_came: int

    @property
    def share(self) -> float | None:
        """The share that held; None without bands."""
        return self.held / self.bands if self.bands else None


def past_days(*, today: date) -> tuple[date, ...]:
    """Return the past days to try, the latest first: over long enough ago to know what came."""
    first = Tray.objects.order_by("started_on").values_list("started_on", flat=True).first()
    if first is None:
        return ()
    days: list[date] = []
    day = today - timedelta(weeks=WEEKS)
    while day >= first + FIRST_AFTER and len(days) < MOST_DAYS:
        days.append(day)
        day -= APART
    return tuple(days)


def past_bands(*, today: date) -> Iterator[tuple[PastBand, ...]]:
    """Yield, past day by past day, the bands of every fern and what came; empty ones are left out.

    Each takes about as long as a forecast: whoever reads may stop at any time.
    """
    days = past_days(today=today)
    came = _became_ready(today=today) if days else {}
    for day in days:
        found = forecast_nursery(on=day, weeks=WEEKS, draws=DRAWS)
        until = day + timedelta(weeks=WEEKS)
        rows = []
        for taxon, drawn in found.ferns.items():
            band = drawn.cumulative()[-1]
            pots = sum(count for when, count in came.get(taxon.pk, []) if day < when <= until)
            if band.high or pots:
                rows.append(PastBand(on=day, taxon=taxon, band=band, came=pots))
        yield tuple(rows)


def hit_rate(bands: tuple[PastBand, ...]) -> HitRate:
    """Count which bands held."""
    said = [band.verdict for band in bands]
    return HitRate(
        bands=len(said),
        held=said.count("held"),
        fewer_came=said.count("fewer came"),
        more_came=said.count("more came"),
    )


def _became_ready(*, today: date) -> dict[int, list[tuple[date, int]]]:
    """Return when how many pots became ready, by fern; dispatched without a look, on that day."""
    seen: dict[int, date] = {}
    rows = (
        StageTransition.objects.standing()
        .filter(to_stage="ready", seen_on__lte=today)
        .order_by("seen_on", "recorded_at", "id")
        .values_list("tray_id", "not_before", "seen_on")
    )
    for tray, not_before, seen_on in rows:
        since = seen_on if not_before is None else not_before
        seen[tray] = since + (seen_on - since) / 2
    found: defaultdict[int, list[tuple[date, int]]] = defaultdict(list)
    for one in trays_passed(on=today):
        if one.passed.to_stage is not Stage.READY:
            continue
        when = seen.get(one.tray.pk, one.tray.ended_on)
        if when is not None:
            found[one.tray.batch.taxon_id].append((when, one.passed.plants_out))
    return dict(found)
