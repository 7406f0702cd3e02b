"""How does a new batch get its trays: codes, first counts, places and dates?"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from batches.core.errors import NotUnderstood
from batches.core.stages import COVERED_STAGES, STAGE_WORDS, Route, Stage
from batches.models import Batch, Bench, PlantMovement, Taxon, Tray
from batches.services.codes import give_batch_code, give_tray_codes
from batches.services.free_places import places_for
from batches.services.lots import sowing_warning
from batches.services.moves import Spot, write_places
from batches.services.standing import refold
from batches.services.stock_plants import origin_warning
from batches.services.stored_forms import made_before, note_made
from batches.services.tray_life import require_day

MOST_TRAYS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Trays:
    """What the trays of a new batch are like; ``each`` counts plants or pots, None is uncounted.

    They are set on the free places of ``bench``; with ``go_on``, of the next ones when it is full.
    ``control`` adds one that stays unsown.
    """

    how_many: int
    container: str
    cells: int | None = None
    pot_size: str = ""
    unit: str = "plants"
    each: int | None = None
    container_state: str = ""
    bench: Bench | None = None
    go_on: bool = False
    control: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """A new batch with its trays in the order of their codes; ``warning`` may be empty."""

    batch: Batch
    trays: tuple[Tray, ...]
    message: str
    warning: str = ""


def make_batch(taxon: Taxon, route: Route, on: date, *, now: datetime, **columns: object) -> Batch:
    """Store a batch with a code given out; ``columns`` are further ones of its row.

    Raises
    ------
    OutOfTime
        When the day lies in the future.
    """
    require_day(on, now=now)
    batch = Batch(
        code=give_batch_code(started_on=on), taxon=taxon, route=route, started_on=on, **columns
    )
    batch.sold_as = batch.sold_as.strip()
    batch.notes = batch.notes.strip()
    batch.save(force_insert=True)
    return batch


def make_trays(
    batch: Batch,
    *,
    stage: Stage,
    wanted: Trays,
    on: date,
    by: str,
    now: datetime,
    record_id: UUID | None,
) -> Started:
    """Give the batch its trays: codes, counts, places and dates; call it inside ``atomic()``.

    Raises
    ------
    NotUnderstood
        When there are too many or none, or a number makes no sense.
    """
    _require_sense(wanted)
    note_made(record_id=record_id, kind="batch", code=batch.code, now=now)
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
            cover="closed" if stage in COVERED_STAGES else "",
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
        _set_down(trays, wanted.bench, go_on=wanted.go_on, on=on, by=by, now=now)
    refold(trays=trays, recorded_at=now)
    return Started(batch=batch, trays=_trays_of(batch), message="")


def _trays_of(batch: Batch) -> tuple[Tray, ...]:
    return tuple(Tray.objects.with_fern().filter(batch=batch).order_by("pk"))


def started_before(record_id: UUID | None) -> Started | None:
    """Return what a form started when it was sent first; None when it is new."""
    code = made_before(record_id=record_id, kind="batch")
    if not code:
        return None
    batches = Batch.objects.select_related(
        "taxon", "spore_lot__taxon", "spore_lot__source", "source__taxon"
    )
    batch = batches.get(code=code)
    return told(Started(batch=batch, trays=_trays_of(batch), message=""))


def _set_down(
    trays: Sequence[Tray], bench: Bench, *, go_on: bool, on: date, by: str, now: datetime
) -> None:
    """Set the trays on free places in order; what finds none stands loose on the bench."""
    rows = []
    found = places_for(how_many=len(trays), bench=bench, go_on=go_on)
    for tray, (there, place) in zip(trays, found, strict=True):
        spot = Spot(bench=there)
        if place is not None:
            spot = Spot(bench=there, row=place.row, column=place.column)
        rows.append((tray, spot, uuid.uuid4()))
    write_places(rows, on=on, by=by, now=now)


def _require_sense(wanted: Trays) -> None:
    if not 1 <= wanted.how_many <= MOST_TRAYS:
        raise NotUnderstood(
            f"1 to {MOST_TRAYS} trays at once; start the rest as another batch.", field="how_many"
        )
    if not wanted.container.strip():
        raise NotUnderstood("Say what the trays are, such as “covered tray”.", field="container")
    if wanted.cells is not None and wanted.cells < 1:
        raise NotUnderstood("A tray has at least one cell.", field="cells")
    if wanted.each is not None and wanted.each < 0:
        raise NotUnderstood("A count is 0 or more.", field="each")


def told(started: Started) -> Started:
    """Return what was started with the sentences a page shows."""
    batch, trays = started.batch, started.trays
    stage = STAGE_WORDS[Stage(trays[0].start_stage)]
    control = " and one unsown control" if any(tray.control for tray in trays) else ""
    count = sum(not tray.control for tray in trays)
    return Started(
        batch=batch,
        trays=trays,
        message=f"Batch {batch.code}: {count} tray{'s' if count != 1 else ''} {stage}{control}. "
        "Print their labels now, before the next batch is opened.",
        warning=_warning(batch),
    )


def _warning(batch: Batch) -> str:
    """Return what to know of the batch's origin on its first day; empty when there is nothing."""
    if batch.spore_lot is not None:
        return sowing_warning(lot=batch.spore_lot, on=batch.started_on)
    return "" if batch.source is None else origin_warning(source=batch.source)
