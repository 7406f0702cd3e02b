"""What needs a frost-free place in winter, and stands where frost may come in?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from batches.models import House, Taxon, Tray

#: ISO weeks in which frost is to be reckoned with; common practice in a cool, wet north, no source
FROST_WEEKS = (43, 17)


@dataclass(frozen=True, slots=True, kw_only=True)
class TenderInTheCold:
    """A house that is not frost-free, with the trays of tender ferns in it."""

    house: House
    trays: tuple[Tray, ...]


def tender_in_the_cold(*, today: date) -> tuple[TenderInTheCold, ...]:
    """Return, house by house, tender ferns that frost can reach; empty outside the frost weeks.

    A fern is tender when it is noted as such, or when it is a tree fern of which nothing is noted;
    others are taken for hardy, evergreen or not. Where no house is noted as frost-free, nobody
    keeps that note, and nothing is said. Two queries at the most.
    """
    first, last = FROST_WEEKS
    week = today.isocalendar().week
    if last < week < first or not House.objects.filter(frost_free=True).exists():
        return ()
    trays = (
        Tray.objects.active()
        .filter(bench__house__frost_free=False, control=False)
        .filter(batch__taxon__in=Taxon.objects.tender())
        .with_fern()
        .order_by("bench__house__code", "code")
    )
    houses: defaultdict[int, list[Tray]] = defaultdict(list)
    for tray in trays:
        if tray.bench is not None:
            houses[tray.bench.house_id].append(tray)
    return tuple(
        TenderInTheCold(house=some[0].bench.house, trays=tuple(some))
        for some in houses.values()
        if some[0].bench is not None
    )
