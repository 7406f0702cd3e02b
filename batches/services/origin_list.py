"""Which stock plants and other origins are there, and what came of each?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from batches.models import Batch, Source, SporeLot, Taxon
from batches.models.source import SOURCE_KINDS


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginRow:
    """An origin with how many lots were collected and batches started from it directly."""

    source: Source
    lots: int
    batches: int


def origins_shown(*, kind: str, fern: str) -> QuerySet[Source]:
    """Return origins of a kind (all for an unknown one) whose fern or code the words name."""
    origins = Source.objects.select_related("taxon", "bench")
    if kind in dict(SOURCE_KINDS):
        origins = origins.filter(kind=kind)
    words = fern.strip()
    if words:
        named = Taxon.objects.named_like(words)
        origins = origins.filter(Q(taxon__in=named) | Q(code__icontains=words))
    return origins


def origin_rows(*, sources: Sequence[Source]) -> list[OriginRow]:
    """Return the rows of a page's origins; two queries."""
    lots = SporeLot.objects.filter(source__in=sources).values_list("source")
    batches = Batch.objects.filter(source__in=sources).values_list("source")
    lot_counts = Counter(dict(lots.annotate(many=Count("pk")).order_by()))
    batch_counts = Counter(dict(batches.annotate(many=Count("pk")).order_by()))
    return [
        OriginRow(source=source, lots=lot_counts[source.pk], batches=batch_counts[source.pk])
        for source in sources
    ]
