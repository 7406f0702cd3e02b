"""How is a batch started: spores sown, fronds pegged down, crowns divided, liners bought in?

Each way makes a batch with its trays, gives out their codes, counts in what is counted and sets
them on a bench, in one transaction. A form sent again with the same ``record_id`` starts nothing
anew and answers as the first time.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.core.stages import START_STAGES, Route, Stage
from batches.models import MediumBatch, PlannedSowing, Source, SporeLot
from batches.services.batch_start import (
    Started,
    Trays,
    make_batch,
    make_trays,
    started_before,
    told,
)
from batches.services.days import day_words
from batches.services.lots import use_from_lot

__all__ = ["Started", "Trays", "buy_in", "divide", "peg_down", "sow_spores"]


def sow_spores(
    *,
    lot: SporeLot,
    on: date,
    trays: Trays,
    by: str,
    now: datetime,
    medium: MediumBatch | None = None,
    sown_mg: float | None = None,
    sold_as: str = "",
    notes: str = "",
    planned: PlannedSowing | None = None,
    record_id: UUID | None = None,
) -> Started:
    """Sow one lot into several covered trays, and an unsown control when asked.

    What comes up is a mat: such a tray is counted in patches, and how many plants a patch gives
    is told when it is pricked out.

    Raises
    ------
    NotPossibleNow
        When the lot has ended, or more spores are taken than it holds.
    OutOfTime, NotUnderstood
        When the day lies before the collection or in the future, or the trays make no sense.
    """
    if on < lot.collected_on:
        raise OutOfTime(
            f"Lot {lot.code} was collected on {day_words(lot.collected_on)}; it cannot have been "
            "sown before. Nothing was stored.",
            field="on",
        )
    if lot.ended_on is not None and lot.ended_on <= on:
        raise NotPossibleNow(
            f"Lot {lot.code} ended on {day_words(lot.ended_on)}. Nothing was sown.", field="lot"
        )
    with transaction.atomic():
        again = started_before(record_id)
        if again is not None:
            return again
        if sown_mg is not None:
            use_from_lot(lot=lot, mg=sown_mg)
        batch = make_batch(
            lot.taxon, Route.SPORE, on, now=now, spore_lot=lot, medium_batch=medium,
            sown_mg=sown_mg, sold_as=sold_as, notes=notes,
        )  # fmt: skip
        mats = replace(trays, unit="patches")
        started = make_trays(
            batch, stage=Stage.SOWN, wanted=mats, on=on, by=by, now=now, record_id=record_id
        )
        if planned is not None:
            PlannedSowing.objects.filter(pk=planned.pk, batch__isnull=True).update(batch=batch)
    return told(started)


def peg_down(
    *,
    source: Source,
    on: date,
    trays: Trays,
    by: str,
    now: datetime,
    medium: MediumBatch | None = None,
    sold_as: str = "",
    notes: str = "",
    record_id: UUID | None = None,
) -> Started:
    """Peg fronds with bulbils down into trays; plants are counted when they are lifted."""
    with transaction.atomic():
        again = started_before(record_id)
        if again is not None:
            return again
        batch = make_batch(
            source.taxon, Route.BULBIL, on, now=now, source=source, medium_batch=medium,
            sold_as=sold_as, notes=notes,
        )  # fmt: skip
        return told(
            make_trays(
                batch,
                stage=Stage.PEGGED_DOWN,
                wanted=trays,
                on=on,
                by=by,
                now=now,
                record_id=record_id,
            )
        )


def divide(
    *,
    source: Source,
    on: date,
    trays: Trays,
    by: str,
    now: datetime,
    medium: MediumBatch | None = None,
    sold_as: str = "",
    notes: str = "",
    record_id: UUID | None = None,
) -> Started:
    """Divide crowns or rhizomes into trays."""
    with transaction.atomic():
        again = started_before(record_id)
        if again is not None:
            return again
        batch = make_batch(
            source.taxon, Route.DIVISION, on, now=now, source=source, medium_batch=medium,
            sold_as=sold_as, notes=notes,
        )  # fmt: skip
        return told(
            make_trays(
                batch, stage=Stage.DIVIDED, wanted=trays, on=on, by=by, now=now, record_id=record_id
            )
        )


def buy_in(
    *,
    source: Source,
    on: date,
    stage: str,
    trays: Trays,
    by: str,
    now: datetime,
    sold_as: str = "",
    notes: str = "",
    record_id: UUID | None = None,
) -> Started:
    """Take in bought liners or lab plants, as pricked out or potted up, counted.

    Raises
    ------
    NotPossibleNow
        When the origin is no purchase or exchange, or the stage is none they can arrive in.
    """
    if source.kind not in {"purchase", "exchange"}:
        raise NotPossibleNow(
            f"Origin {source.code} is no purchase or exchange. Nothing was stored; choose where "
            "they were bought.",
            field="source",
        )
    if stage not in {str(start) for start in START_STAGES[Route.BOUGHT_IN]}:
        raise NotUnderstood("Bought-in plants arrive pricked out or potted up.", field="stage")
    with transaction.atomic():
        again = started_before(record_id)
        if again is not None:
            return again
        batch = make_batch(
            source.taxon, Route.BOUGHT_IN, on, now=now, source=source, sold_as=sold_as, notes=notes
        )
        return told(
            make_trays(
                batch, stage=Stage(stage), wanted=trays, on=on, by=by, now=now, record_id=record_id
            )
        )
