"""What is to be known before a batch is started from a lot or an origin?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from batches.core.names import Run
from batches.models import Batch, Source, SporeLot, Taxon, Tray
from batches.services.lot_list import TestResult, results_of
from batches.services.lots import sow_by_of, sowing_warning
from batches.services.stock_plants import origin_warning


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeStart:
    """What the page shows beside the form; ``warning`` may be empty, ``lot`` and results None."""

    taxon: Taxon
    code: str
    source: Source
    warning: str
    sold_name: tuple[Run, ...]
    lot: SporeLot | None = None
    sow_by: date | None = None
    result: TestResult | None = None


def about_lot(*, lot: SporeLot, on: date) -> BeforeStart:
    """Return what to know before sowing from a lot on a day."""
    results = results_of(lot.germination_tests.all())
    return BeforeStart(
        taxon=lot.taxon,
        code=lot.code,
        source=lot.source,
        warning=sowing_warning(lot=lot, on=on),
        sold_name=Batch(taxon=lot.taxon, route="spore").sold_name,
        lot=lot,
        sow_by=sow_by_of(lot),
        result=results[-1] if results else None,
    )


def about_source(*, source: Source) -> BeforeStart:
    """Return what to know before pegging down, dividing or taking in from an origin."""
    return BeforeStart(
        taxon=source.taxon,
        code=source.code,
        source=source,
        warning=origin_warning(source=source),
        sold_name=Batch(taxon=source.taxon, route="division").sold_name,
    )


def containers_used() -> list[str]:
    """Return the words the nursery has used for its containers, in order; one query."""
    words = Tray.objects.order_by("container").values_list("container", flat=True)
    return list(words.distinct()[:40])
