"""Which benches does the map show, and which trays fit what it is narrowed to?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from batches.models import Bench, Tray
from batches.services.holds import held_now
from batches.services.laid_out import LaidOutAhead
from batches.services.suspicion import all_trays_under_suspicion

#: what the map is narrowed to beside the troubles: trays that may hold a rogue fern …
SUSPECT = "suspect"
#: … and held trays
HELD = "held"
#: drawn places on one page of the map; a browser on a tablet still answers at once with so many
PLACES_A_PAGE = 3_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Filters:
    """What the map is narrowed to; empty means everything.

    ``sign`` is a trouble, `SUSPECT` for trays that may hold a rogue fern, or `HELD`.
    """

    house: str = ""
    fern: str = ""
    batch: str = ""
    sign: str = ""
    late: bool = False

    @property
    def any_tray(self) -> bool:
        """Whether a filter on trays is set: what does not fit is faded, not hidden."""
        return bool(self.fern or self.batch or self.sign or self.late)

    def shows(self, ahead: LaidOutAhead) -> bool:
        """Tell whether codes laid out ahead fit: they are of a fern, and neither ill nor late."""
        return (
            (not self.fern or ahead.batch.taxon.code == self.fern)
            and (not self.batch or ahead.batch.code == self.batch)
            and not (self.sign or self.late)
        )


def benches_of_map(*, filters: Filters, today: date) -> list[Bench]:
    """Return the benches that the filters leave, in walking order, with their houses.

    With a filter on trays these are the benches on which one that fits stands, unless all benches
    fit on one page anyway.
    """
    benches = Bench.objects.in_walking_order().select_related("house")
    if filters.house:
        benches = benches.filter(house__code=filters.house)
    found = list(benches)
    if not filters.any_tray or len(pages_of(found)) == 1:
        return found
    there = set(_fitting(filters, today=today).values_list("bench", flat=True))
    return [bench for bench in found if bench.pk in there]


def pages_of(benches: Sequence[Bench]) -> list[list[Bench]]:
    """Part benches into pages of at most `PLACES_A_PAGE` drawn places; at least one page."""
    pages: list[list[Bench]] = [[]]
    places = 0
    for bench in benches:
        here = (bench.rows or 0) * (bench.columns or 0)
        if pages[-1] and places + here > PLACES_A_PAGE:
            pages.append([])
            places = 0
        pages[-1].append(bench)
        places += here
    return pages


def _fitting(filters: Filters, *, today: date) -> QuerySet[Tray]:
    """Return the trays that fit the filters, by the stored columns (see `_fits`)."""
    trays = Tray.objects.active()
    if filters.fern:
        trays = trays.filter(batch__taxon__code=filters.fern)
    if filters.batch:
        trays = trays.filter(batch__code=filters.batch)
    if filters.sign == SUSPECT:
        trays = trays.filter(pk__in=all_trays_under_suspicion())
    elif filters.sign == HELD:
        trays = trays.filter(pk__in=held_now().values("tray"))
    elif filters.sign:
        trays = trays.filter(last_signs__contains=filters.sign)
    if filters.late:
        trays = trays.late_in_stage(today) | trays.filter(decide_on__lte=today)
    return trays
