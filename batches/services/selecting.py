"""A selected form is taken out of a tray: how does it go on under its own name?

It leaves as a new batch whose origin is that tray, so that its plants are never mixed with their
sisters and still lead back to them.
"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import AlreadyTaken, NotUnderstood
from batches.models import Batch, PlantMovement, Source, Taxon, Tray
from batches.services.codes import give_kind_code, take_own_code
from batches.services.days import local_day
from batches.services.holds import hand_down
from batches.services.sowing import Trays, divide
from batches.services.standing import refold
from batches.services.stock_book import Moment, require_balanced, settle_counts_after
from batches.services.tray_life import require_day, require_since, require_standing, take

#: provenance of the mother's origin → of the selected form (International Transfer Format,
#: version 2: raised from wild-origin material is Z)
_PROVENANCE = {"W": "Z", "Z": "Z", "G": "G", "U": "U"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Selected:
    """A selected form: its origin, its batch, the first tray; ``movement`` left the old tray.

    ``created`` is False when the same selection was stored before.
    """

    source: Source
    batch: Batch
    tray: Tray
    movement: PlantMovement
    created: bool
    message: str


def select_form(
    *,
    tray: Tray,
    quantity: int,
    on: date,
    by: str,
    now: datetime,
    container: str,
    taxon: Taxon | None = None,
    sold_as: str = "",
    notes: str = "",
    source_code: str = "",
    unit: str = "plants",
    pot_size: str = "",
    record_id: UUID | None = None,
    revision: int | None = None,
) -> Selected:
    """Take a selected form out of a tray into a batch of its own, kept on by division.

    Parameters
    ----------
    quantity : int
        How many leave the tray; as many stand in the new one.
    taxon : Taxon, optional
        What it is called now; left out, it stays the tray's fern.

    Raises
    ------
    LedgerDoesNotBalance
        When more would leave than the tray holds.
    NotPossibleNow, NotUnderstood, OutOfTime, ChangedMeanwhile, AlreadyTaken, BadCode
        As everywhere; nothing is stored then.
    """
    require_day(on, now=now)
    if quantity < 1:
        raise NotUnderstood("How many are taken is a whole number from 1 up.", field="quantity")
    with transaction.atomic():
        row_id = record_id or uuid.uuid4()
        again = _stored_before(row_id, tray, quantity, on)
        if again is not None:
            return again
        tray = take(tray, revision=revision)
        require_standing(tray)
        require_since(tray, on)
        movement = PlantMovement.objects.create(
            id=row_id,
            tray=tray,
            on=on,
            kind="out",
            quantity=quantity,
            by=by.strip()[:80],
            recorded_at=now,
        )
        if on < local_day(now):
            settle_counts_after(tray, Moment(on=on, recorded_at=now), by=by, now=now)
        require_balanced([tray])
        refold(trays=[tray], recorded_at=now)
        source = _source(tray, taxon or tray.batch.taxon, on, code=source_code, notes=notes)
        started = divide(
            source=source,
            on=on,
            trays=Trays(how_many=1, container=container, unit=unit, pot_size=pot_size),
            by=by,
            now=now,
            sold_as=sold_as,
        )
        (child,) = started.trays
        PlantMovement.objects.create(
            id=_first_count_id(row_id),
            tray=child,
            on=on,
            kind="in",
            quantity=quantity,
            by=by.strip()[:80],
            recorded_at=now,
        )
        hand_down(given=[(tray, child)], by=by, now=now)
        refold(trays=[child], recorded_at=now)
        child.refresh_from_db()
    return _told(source, started.batch, child, movement, created=True)


def _first_count_id(row_id: UUID) -> UUID:
    return uuid.uuid5(row_id, "selected")


def _source(tray: Tray, taxon: Taxon, on: date, *, code: str, notes: str) -> Source:
    batch = tray.batch
    origin = batch.spore_lot.source if batch.spore_lot is not None else batch.source
    own = code.strip()
    kept = (
        take_own_code(code=own, kind="source")
        if own
        else give_kind_code(kind="source", year=on.year)
    )
    return Source.objects.create(
        code=kept,
        taxon=taxon,
        kind="tray",
        mothers=tray.code,
        provenance="U" if origin is None else _PROVENANCE[origin.provenance],
        notes=notes.strip(),
    )


def _stored_before(row_id: UUID, tray: Tray, quantity: int, on: date) -> Selected | None:
    row = PlantMovement.objects.filter(pk=row_id).select_related("tray").first()
    if row is None:
        return None
    first = PlantMovement.objects.filter(pk=_first_count_id(row_id)).select_related(
        "tray__batch__source"
    )
    counted_in = first.first()
    same = (row.tray_id, row.quantity, row.on) == (tray.pk, quantity, on)
    if counted_in is None or not same:
        raise AlreadyTaken(
            f"The id {row_id} stands for another record already, of tray {row.tray.code}. What was "
            "stored stays; this one needs an id of its own."
        )
    child = counted_in.tray
    return _told(child.batch.source, child.batch, child, row, created=False)


def _told(
    source: Source, batch: Batch, child: Tray, movement: PlantMovement, *, created: bool
) -> Selected:
    return Selected(
        source=source,
        batch=batch,
        tray=child,
        movement=movement,
        created=created,
        message=(
            f"{movement.quantity} taken out of {movement.tray.code}: batch {batch.code} of origin "
            f"{source.code}, in tray {child.code}. Print its label now."
        ),
    )
