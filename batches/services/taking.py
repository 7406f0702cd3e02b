"""A manager takes what the bench sent, as it is or put right: how does it come into the records?

What the stock book did not know is counted up first, a stage that went back is a correction. What
was sent stays readable beside how it was settled.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction

from batches.core.errors import LedgerDoesNotBalance, NotPossibleNow, OutOfTime
from batches.models import ToSettle, Tray, TrayCheck
from batches.services.checks import record_check
from batches.services.settling import settle
from batches.services.stock_book import standing_losses
from batches.services.strikes import strike_out
from batches.services.sync_deeds import move_sent, picking_sent, tray_of
from batches.services.sync_items import (
    Item,
    flag_of,
    losses_of,
    number_of,
    said_by_device,
    text_of,
    words_of,
)

_MOST_WORDS = 2_000


def take_it(
    *,
    item_id: UUID,
    by: str,
    now: datetime,
    changed: Mapping[str, Any] | None = None,
    at: datetime | None = None,
) -> str:
    """Bring something that waits into the records and return in words what was stored.

    Parameters
    ----------
    changed : mapping, optional
        What the manager put right, by the item's own names.
    at : datetime, optional
        When it really happened, where that was put right.

    Raises
    ------
    NurseryError
        In words; then nothing was stored and it waits on.
    """
    with transaction.atomic():
        row = ToSettle.objects.open().select_related("device").filter(pk=item_id).first()
        if row is None:
            raise NotPossibleNow("This was settled already. Nothing was changed.")
        item = _item(row, changed or {}, at)
        words = _TAKEN[item.kind](item, row, by, now) if item.kind in _TAKEN else _never()
        settle(
            item_id=item_id,
            how="put right and taken" if changed or at else "taken as it is",
            by=by,
            now=now,
        )
    return words


def _item(row: ToSettle, changed: Mapping[str, Any], at: datetime | None) -> Item:
    when = at or row.at or said_by_device(row.item)
    if when is None:
        raise OutOfTime("It does not say when it happened. Correct that first.", field="at")
    said = said_by_device(row.item)
    return Item(
        id=row.pk,
        kind=text_of(row.item.get("kind")),
        at=when,
        said_at=said if said != when else None,
        by=row.by,
        raw=row.item | dict(changed),
        warning="",
    )


def _look(item: Item, row: ToSettle, by: str, now: datetime) -> str:
    tray = tray_of(item)
    stored = TrayCheck.objects.standing().filter(pk=_look_id(row)).select_related("tray").first()
    if stored is not None and stored.tray_id != tray.pk:
        # It was logged at the wrong tray.
        strike_out(row=stored, by=by, now=now)
        stored = None
    losses = [] if stored is not None and standing_losses(stored.pk) else losses_of(
        item.raw.get("losses")
    )  # fmt: skip
    signs = [] if stored is not None and stored.signs else words_of(item.raw.get("signs"))
    look: dict[str, Any] = {
        "tray": tray,
        "seen_at": item.at,
        "now": now,
        "by": item.by,
        "device": "" if row.device is None else row.device.name,
        "device_ref": row.device,
        "source": "settled",
        "stage_seen": text_of(item.raw.get("stage_seen")),
        "count": number_of(item.raw, "count"),
        "about": flag_of(item.raw, "about"),
        "signs": signs,
        "losses": losses,
        "opened": flag_of(item.raw, "opened"),
        "note": "" if stored is not None else text_of(item.raw.get("note"))[:_MOST_WORDS],
        "record_id": uuid.uuid5(row.pk, "taken"),
        "correction": True,
    }
    try:
        return record_check(**look).message
    except LedgerDoesNotBalance:
        if not losses or look["count"] is not None:
            raise
        # So many cannot have been lost of what the book holds: nothing is left, and there were
        # more than the book said.
        return record_check(**look | {"count": 0}).message


def _look_id(row: ToSettle) -> UUID:
    try:
        return UUID(text_of(row.item.get("id")))
    except ValueError:
        return row.pk


def _picking(item: Item, row: ToSettle, by: str, now: datetime) -> str:
    try:
        with transaction.atomic():
            return picking_sent(item, now=now).message
    except LedgerDoesNotBalance:
        held = number_of(item.raw, "quantity")
        tray = tray_of(item)
        if held is None or not _holds_less(tray, held):
            raise
        record_check(
            tray=tray,
            seen_at=item.at - timedelta(minutes=1),
            now=now,
            by=by,
            count=held,
            note=f"Counted up: {held} left it at the bench.",
            record_id=uuid.uuid5(row.pk, "counted up"),
        )
        return picking_sent(item, now=now).message


def _holds_less(tray: Tray, number: int) -> bool:
    return tray.alive is not None and tray.alive < number


def _move(item: Item, row: ToSettle, by: str, now: datetime) -> str:  # noqa: ARG001
    return move_sent(item, now=now).message


def _never() -> str:
    raise NotPossibleNow(
        "What it strikes out is not here, or cannot be struck out any more. Nothing was changed; "
        "leave it out, or strike the row out on the tray's own page."
    )


_TAKEN = {"check": _look, "move": _move, "prick_out": _picking, "pot_up": _picking}
