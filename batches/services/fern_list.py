"""Which ferns are raised here, and what is there of each?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, QuerySet

from batches.models import SporeLot, Taxon, Tray


@dataclass(frozen=True, slots=True, kw_only=True)
class FernRow:
    """A fern with its lots in store and its trays standing (controls left out)."""

    taxon: Taxon
    lots: int
    trays: int


def ferns_shown(*, fern: str) -> QuerySet[Taxon]:
    """Return the ferns whose code or name holds every word; all for no word."""
    return Taxon.objects.named_like(fern)


def fern_rows(*, taxa: Sequence[Taxon]) -> list[FernRow]:
    """Return the rows of a page's ferns; two queries."""
    lots = SporeLot.objects.in_store().filter(taxon__in=taxa).values_list("taxon")
    trays = Tray.objects.active().filter(batch__taxon__in=taxa, control=False)
    lot_counts = Counter(dict(lots.annotate(many=Count("pk")).order_by()))
    tray_counts = Counter(
        dict(trays.values_list("batch__taxon").annotate(many=Count("pk")).order_by())
    )
    return [
        FernRow(taxon=taxon, lots=lot_counts[taxon.pk], trays=tray_counts[taxon.pk])
        for taxon in taxa
    ]
