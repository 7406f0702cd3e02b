"""Which batches stand, what are they raised from, and what is alive of them by stage?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet, Sum

from batches.core.stages import Stage
from batches.models import Batch, Taxon, Tray

_ORDER = {str(stage): place for place, stage in enumerate(Stage)}


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCount:
    """The standing trays of a batch in one stage; ``alive`` is None where none was counted.

    ``uncounted`` trays of them were never counted; ``unit`` is plants, patches or pots.
    """

    stage: str
    trays: int
    alive: int | None
    uncounted: int
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchRow:
    """A batch and what stands of it; ``trays`` without unsown controls."""

    batch: Batch
    trays: int
    stages: tuple[StageCount, ...]


def batches_shown(*, standing: bool, fern: str, route: str) -> QuerySet[Batch]:
    """Return batches for the list: those that still stand or all, by fern or code, by route."""
    batches = Batch.objects.for_list()
    if standing:
        trays = Tray.objects.active().filter(batch=OuterRef("pk"))
        batches = batches.filter(Exists(trays))
    if route:
        batches = batches.filter(route=route)
    words = fern.strip()
    if words:
        batches = batches.filter(
            Q(taxon__in=Taxon.objects.named_like(words)) | Q(code__icontains=words)
        )
    return batches


def batch_rows(*, batches: Sequence[Batch]) -> list[BatchRow]:
    """Return the rows of a page's batches; one query."""
    stages = _stages_of(batches)
    return [
        BatchRow(
            batch=batch,
            trays=sum(count.trays for count in stages[batch.pk]),
            stages=tuple(stages[batch.pk]),
        )
        for batch in batches
    ]


def trays_of(*, batch: Batch) -> QuerySet[Tray]:
    """Return the batch's trays for its page: what stands first, then what has ended, by code."""
    return (
        Tray.objects.with_fern()
        .filter(batch=batch)
        .order_by(F("ended_on").asc(nulls_first=True), "code")
    )


def _stages_of(batches: Iterable[Batch]) -> defaultdict[int, list[StageCount]]:
    rows = (
        Tray.objects.active()
        .filter(batch__in=[batch.pk for batch in batches], control=False)
        .values_list("batch", "stage", "unit")
        .annotate(trays=Count("pk"), counted=Count("alive"), alive_sum=Sum("alive"))
        .order_by()
    )
    found: defaultdict[int, list[StageCount]] = defaultdict(list)
    for batch, stage, unit, trays, counted, alive in rows:
        found[batch].append(
            StageCount(stage=stage, trays=trays, alive=alive, uncounted=trays - counted, unit=unit)
        )
    for counts in found.values():
        counts.sort(key=lambda count: (_ORDER[count.stage], count.unit))
    return found
