"""How is a batch started: spores sown, fronds pegged down, crowns divided, liners bought in?

Each way makes a batch with its trays, gives out their codes, counts in what is counted and sets
them on a bench, in one transaction.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.core.stages import STAGE_WORDS, START_STAGES, Route, Stage
from batches.models import (
    Batch,
    Bench,
    MediumBatch,
    Parentage,
    PlannedSowing,
    PlantMovement,
    Source,
    SporeLot,
    Taxon,
    Tray,
)
from batches.services.codes import give_batch_code, give_tray_codes
from batches.services.days import day_words
from batches.services.free_places import FreePlace, free_places
from batches.services.lots import sowing_warning, use_from_lot
from batches.services.moves import Spot, write_places
from batches.services.standing import refold
from batches.services.tray_life import require_day

MOST_TRAYS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Trays:
    """What the trays of a new batch are like; ``each`` counts plants or pots, None is uncounted."""

    how_many: int
    container: str
    cells: int | None = None
    pot_size: str = ""
    unit: str = "plants"
    each: int | None = None
    container_state: str = ""
    bench: Bench | None = None
    control: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """A new batch with its trays in the order of their codes; ``warning`` may be empty."""

    batch: Batch
    trays: tuple[Tray, ...]
    message: str
    warning: str = ""


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
) -> Started:
    """Sow one lot into several covered trays, and an unsown control when asked.

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
        if sown_mg is not None:
            use_from_lot(lot=lot, mg=sown_mg)
        batch = _batch(
            lot.taxon, Route.SPORE, on, now=now, spore_lot=lot, medium_batch=medium,
            sown_mg=sown_mg, sold_as=sold_as, notes=notes,
        )  # fmt: skip
        started = _start(batch, Stage.SOWN, trays, on=on, by=by, now=now)
        if planned is not None:
            PlannedSowing.objects.filter(pk=planned.pk, batch__isnull=True).update(batch=batch)
    return _told(started, warning=sowing_warning(lot=lot, on=on))


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
) -> Started:
    """Peg fronds with bulbils down into trays; plants are counted when they are lifted."""
    with transaction.atomic():
        batch = _batch(
            source.taxon, Route.BULBIL, on, now=now, source=source, medium_batch=medium,
            sold_as=sold_as, notes=notes,
        )  # fmt: skip
        return _told(_start(batch, Stage.PEGGED_DOWN, trays, on=on, by=by, now=now))


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
) -> Started:
    """Divide crowns or rhizomes into trays."""
    with transaction.atomic():
        batch = _batch(
            source.taxon, Route.DIVISION, on, now=now, source=source, medium_batch=medium,
            sold_as=sold_as, notes=notes,
        )  # fmt: skip
        return _told(_start(batch, Stage.DIVIDED, trays, on=on, by=by, now=now))


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
        batch = _batch(
            source.taxon, Route.BOUGHT_IN, on, now=now, source=source, sold_as=sold_as, notes=notes
        )
        return _told(_start(batch, Stage(stage), trays, on=on, by=by, now=now))


def start_from_tray(
    *,
    parent: Tray,
    source: Source,
    on: date,
    trays: Trays,
    by: str,
    now: datetime,
    sold_as: str = "",
) -> Started:
    """Start a new batch from plants selected in a tray of ours; the tray is named as its parent."""
    route, stage = Route.DIVISION, Stage.DIVIDED
    with transaction.atomic():
        batch = _batch(source.taxon, route, on, now=now, source=source, sold_as=sold_as)
        started = _start(batch, stage, trays, on=on, by=by, now=now)
        Parentage.objects.bulk_create(
            Parentage(parent=parent, child=tray) for tray in started.trays
        )
    return _told(started)


def _batch(taxon: Taxon, route: Route, on: date, *, now: datetime, **columns: object) -> Batch:
    require_day(on, now=now)
    batch = Batch(
        code=give_batch_code(started_on=on), taxon=taxon, route=route, started_on=on, **columns
    )
    batch.sold_as = batch.sold_as.strip()
    batch.notes = batch.notes.strip()
    batch.save(force_insert=True)
    return batch


def _start(
    batch: Batch, stage: Stage, wanted: Trays, *, on: date, by: str, now: datetime
) -> Started:
    _require_sense(wanted)
    how_many = wanted.how_many + int(wanted.control)
    codes = give_tray_codes(batch=batch, how_many=how_many)
    trays = [
        Tray(
            code=code,
            batch=batch,
            container=wanted.container.strip(),
            cells=wanted.cells,
            started_on=on,
            start_stage=stage,
            unit=wanted.unit,
            pot_size=wanted.pot_size.strip(),
            container_state=wanted.container_state,
            cover="closed" if stage in (Stage.SOWN, Stage.PEGGED_DOWN) else "",
            control=wanted.control and place == how_many - 1,
            stage=stage,
            stage_seen_on=on,
        )
        for place, code in enumerate(codes)
    ]
    Tray.objects.bulk_create(trays)
    if wanted.each:
        PlantMovement.objects.bulk_create(
            PlantMovement(tray=tray, on=on, kind="in", quantity=wanted.each, by=by, recorded_at=now)
            for tray in trays
            if not tray.control
        )
    if wanted.bench is not None:
        _set_down(trays, wanted.bench, on=on, by=by, now=now)
    refold(trays=trays, recorded_at=now)
    fresh = Tray.objects.with_fern().filter(batch=batch).order_by("pk")
    return Started(batch=batch, trays=tuple(fresh), message="")


def _set_down(trays: Sequence[Tray], bench: Bench, *, on: date, by: str, now: datetime) -> None:
    """Set the trays on the bench's free places in order; what finds none stands loose on it."""
    places: list[FreePlace | None] = [*free_places(bench=bench, most=len(trays))]
    places += [None] * (len(trays) - len(places))
    spots = [
        Spot(bench=bench)
        if place is None
        else Spot(bench=bench, row=place.row, column=place.column)
        for place in places
    ]
    rows = [(tray, spot, uuid.uuid4()) for tray, spot in zip(trays, spots, strict=True)]
    write_places(rows, on=on, by=by, now=now)


def _require_sense(wanted: Trays) -> None:
    if not 1 <= wanted.how_many <= MOST_TRAYS:
        raise NotUnderstood(f"1 to {MOST_TRAYS} trays at once.", field="how_many")
    if not wanted.container.strip():
        raise NotUnderstood("Say what the trays are, such as “covered tray”.", field="container")
    if wanted.cells is not None and wanted.cells < 1:
        raise NotUnderstood("A tray has at least one cell.", field="cells")
    if wanted.each is not None and wanted.each < 0:
        raise NotUnderstood("A count is 0 or more.", field="each")


def _told(started: Started, *, warning: str = "") -> Started:
    batch, trays = started.batch, started.trays
    stage = STAGE_WORDS[Stage(trays[0].start_stage)]
    control = " and one unsown control" if trays[-1].control else ""
    count = len(trays) - int(bool(control))
    return Started(
        batch=batch,
        trays=trays,
        message=f"Batch {batch.code}: {count} tray{'s' if count != 1 else ''} {stage}{control}. "
        "Print their labels now, before the next batch is opened.",
        warning=warning,
    )
