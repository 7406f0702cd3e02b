"""Pots leave the nursery: how many, to whom, for which order, and what stays?"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood
from batches.core.ledger import in_unit
from batches.core.stages import COVERED_STAGES, STAGE_WORDS, Stage
from batches.models import Order, PlantMovement, Tray
from batches.services.days import local_day
from batches.services.ending import end_tray
from batches.services.holds import require_not_held
from batches.services.orders import OrderProgress, progress_of, require_open
from batches.services.standing import refold
from batches.services.stock_book import Moment, require_balanced, settle_counts_after
from batches.services.tray_life import (
    last_day_on_record,
    require_day,
    require_since,
    require_standing,
    take,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchResult:
    """What left; ``created`` is False when it was stored before.

    ``order`` tells how far the order is; None when it was not for one.
    """

    movement: PlantMovement
    tray: Tray
    order: OrderProgress | None
    created: bool
    message: str


def dispatch(
    *,
    tray: Tray,
    quantity: int,
    on: date,
    by: str,
    now: datetime,
    recipient: str = "",
    order: Order | None = None,
    end_when_empty: bool = True,
    record_id: UUID | None = None,
    revision: int | None = None,
) -> DispatchResult:
    """Dispatch plants or pots out of a counted tray; an emptied one ends as dispatched.

    ``recipient`` left empty is the order's customer.

    Raises
    ------
    LedgerDoesNotBalance
        When more would leave than the tray holds.
    NotPossibleNow
        When it has ended, is held, is not counted, is still under its cover, or the order is closed
        or for another fern.
    NotUnderstood, OutOfTime, ChangedMeanwhile, AlreadyTaken
        As everywhere; nothing is stored then.
    """
    require_day(on, now=now)
    if quantity < 1:
        raise NotUnderstood("How many left is a whole number from 1 up.", field="quantity")
    with transaction.atomic():
        row_id = record_id or uuid.uuid4()
        again = _stored_before(row_id, tray, quantity, on)
        if again is not None:
            return again
        tray = take(tray, revision=revision)
        _require_may_leave(tray, on, order)
        movement = PlantMovement.objects.create(
            id=row_id,
            tray=tray,
            on=on,
            kind="dispatch",
            quantity=quantity,
            recipient=(recipient.strip() or (order.customer if order else ""))[:120],
            order=order,
            by=by.strip()[:80],
            recorded_at=now,
        )
        if on < local_day(now):
            settle_counts_after(tray, Moment(on=on, recorded_at=now), by=by, now=now)
        left = require_balanced([tray])[tray.pk].alive
        if left == 0 and end_when_empty:
            end_tray(tray, on=last_day_on_record(tray), end="dispatched", now=now)
        else:
            refold(trays=[tray], recorded_at=now)
            tray.refresh_from_db()
    return _result(movement, tray, created=True)


def _require_may_leave(tray: Tray, on: date, order: Order | None) -> None:
    require_standing(tray)
    require_since(tray, on)
    require_not_held(tray)
    if Stage(tray.stage) in COVERED_STAGES:
        raise NotPossibleNow(
            f"Tray {tray.code} is at “{STAGE_WORDS[Stage(tray.stage)]}”, under its cover: nothing "
            "of it is ready to leave. Nothing was stored; look at the label again.",
            field="tray",
        )
    if tray.alive is None:
        raise NotPossibleNow(
            f"Tray {tray.code} is not counted. Nothing was stored; count it first.", field="tray"
        )
    if order is not None:
        require_open(order, taxon=tray.batch.taxon)


def _stored_before(row_id: UUID, tray: Tray, quantity: int, on: date) -> DispatchResult | None:
    row = PlantMovement.objects.filter(pk=row_id).select_related("tray", "order").first()
    if row is None:
        return None
    if (row.tray_id, row.kind, row.quantity, row.on) != (tray.pk, "dispatch", quantity, on):
        raise AlreadyTaken(
            f"The id {row_id} stands for another record already, of tray {row.tray.code}. What was "
            "stored stays; this one needs an id of its own."
        )
    return _result(row, row.tray, created=False)


def _result(movement: PlantMovement, tray: Tray, *, created: bool) -> DispatchResult:
    order = movement.order
    progress = None if order is None else progress_of(orders=[order])[0]
    to = f" to {movement.recipient}" if movement.recipient else ""
    words = f"{in_unit(movement.quantity, tray.unit)} of {tray.code} left{to}."
    if tray.ended_on is not None:
        words += " The tray is empty."
    elif tray.alive is not None:
        words += f" {tray.alive} stay."
    if progress is not None:
        words += f" Order {progress.order.code}: {progress.dispatched} of {progress.ordered}."
    return DispatchResult(
        movement=movement, tray=tray, order=progress, created=created, message=words
    )
