"""What does a sowing take: spores out of which lots, litres of mix, places on benches?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from math import ceil
from statistics import median

from django.db.models import Count

from batches.models import Batch, SporeLot, Taxon
from batches.services.free_places import bench_rooms

#: a covered tray of 33 × 21 cm, its filling in litres, and the germinable spores it is sown to;
#: common practice, no source
TRAY_CM2 = 693
TRAY_LITRES = 2.5
GERMINABLE_PER_CM2 = 15
#: what mixing loses of the parts' own volumes; common practice, no source
MIXING_LOSS = 0.15
#: germination that is reckoned with where no sample was counted
USUAL_GERMINATION = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class LotForPlan:
    """A lot in store: what lies in it, how it germinated (None: never counted), what is asked.

    ``mg_needed`` is None where no sowing of this fern was weighed; ``enough`` then too, and where
    the lot was not weighed.
    """

    lot: SporeLot
    germination: float | None
    spores_needed: int
    mg_needed: float | None
    enough: bool | None
    sow_by_over: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SowingNeeds:
    """What so many covered trays take."""

    trays: int
    spores: int
    germination: float
    litres: float
    places_free: int
    lots: tuple[LotForPlan, ...]


def sowing_needs(*, taxon: Taxon, trays: int, sow_on: date) -> SowingNeeds:
    """Return what a sowing takes, against what is there; three queries.

    Spores: trays × 693 cm² × 15 germinable a cm² ÷ germination. Litres of parts: the trays'
    filling ÷ (1 − mixing loss).
    """
    weighed = _mg_a_tray(taxon)
    lots = []
    for lot in SporeLot.objects.in_store().filter(taxon=taxon).for_list():
        rate = _germination(lot)
        mg = None if weighed is None else trays * weighed
        there = lot.remaining_mg if lot.remaining_mg is not None else lot.mass_mg
        lots.append(
            LotForPlan(
                lot=lot,
                germination=rate,
                spores_needed=_spores(trays, rate or USUAL_GERMINATION),
                mg_needed=mg,
                enough=None if mg is None or there is None else there >= mg,
                sow_by_over=lot.sow_by is not None and lot.sow_by < sow_on,
            )
        )
    known = [one.germination for one in lots if one.germination]
    germination = max(known) if known else USUAL_GERMINATION
    return SowingNeeds(
        trays=trays,
        spores=_spores(trays, germination),
        germination=germination,
        litres=trays * TRAY_LITRES / (1 - MIXING_LOSS),
        places_free=sum(room.free or 0 for room in bench_rooms()),
        lots=tuple(lots),
    )


def _spores(trays: int, germination: float) -> int:
    return ceil(trays * TRAY_CM2 * GERMINABLE_PER_CM2 / germination)


def _germination(lot: SporeLot) -> float | None:
    """Return the share of the last counted sample that came up; None without, or when none did."""
    counted = [
        t for t in lot.germination_tests.all() if t.counted_on and t.counted and t.germinated
    ]
    if not counted:
        return None
    last = max(counted, key=lambda test: test.counted_on or test.sown_on)
    return (last.germinated or 0) / (last.counted or 1)


def _mg_a_tray(taxon: Taxon) -> float | None:
    """Return the middle mass a tray that was sown of this fern; None where none was weighed."""
    rows: Iterable[tuple[float | None, int]] = (
        Batch.objects.filter(taxon=taxon, sown_mg__gt=0)
        .annotate(sown_trays=Count("trays"))
        .values_list("sown_mg", "sown_trays")
    )
    each = [mg / trays for mg, trays in rows if mg and trays]
    return median(each) if each else None
