"""A tablet takes a picking back right after it: which rows were it, and how does all stand then?

A picking is a row of the stock book for each tray that was filled. All of them are struck out
together; a tray that nothing else went into is cleared, and its label may be filled again.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from uuid import UUID

from django.db import transaction

from batches.models import PlantMovement, Tray, TrayCheck
from batches.services.days import day_words
from batches.services.ending import end_tray, stand_again
from batches.services.picking_rules import was_emptied
from batches.services.stock_row_ids import out_id
from batches.services.strikes import StrikeResult, strike_out


def rows_of_picking(picking_id: UUID) -> list[PlantMovement]:
    """Return a picking's rows of the stock book in their order; empty while it has not arrived."""
    rows = PlantMovement.objects.filter(kind="out", to_tray__isnull=False)
    first = rows.filter(pk=picking_id).select_related("tray", "to_tray").first()
    if first is None:
        return []
    beside = rows.filter(tray=first.tray, on=first.on, recorded_at=first.recorded_at)
    found = {row.pk: row for row in beside.select_related("tray", "to_tray")}
    for of in range(len(found), 1, -1):
        ids = [out_id(picking_id, place, of) for place in range(of)]
        if all(row_id in found for row_id in ids):
            return [found[row_id] for row_id in ids]
    return [first]


def take_back(
    rows: Sequence[PlantMovement], *, by: str, now: datetime, record_id: UUID
) -> StrikeResult:
    """Strike out all rows of a picking; twice is once.

    The strike of the first row bears ``record_id`` and is the answer's, ``also`` are the others.

    Raises
    ------
    LedgerDoesNotBalance
        When plants of it went further meanwhile; nothing is struck out then.
    NotPossibleNow, AlreadyTaken, ChangedMeanwhile
        As `strikes.strike_out`.
    """
    ids = [record_id, *(uuid.uuid5(record_id, str(row.pk)) for row in rows[1:])]
    with transaction.atomic():
        first, *others = [
            strike_out(row=row, by=by, now=now, record_id=strike_id)
            for row, strike_id in zip(rows, ids, strict=True)
        ]
        parent = rows[0].tray
        parent.refresh_from_db()
        if first.created:
            _come_back_no_more(parent)
    filled = Tray.objects.filter(pk__in=[row.to_tray_id for row in rows])
    words = f"Taken back: what left {parent.code} on {day_words(rows[0].on)}."
    cleared = [tray.code for tray in filled.order_by("code") if tray.ended_on is not None]
    if cleared:
        words += f" Cleared, until something is put in: {', '.join(cleared)}."
    also = tuple(one.strike for one in others)
    return replace(first, also=also, tray=parent, message=words)


def _come_back_no_more(parent: Tray) -> None:
    """Blank the day to come back to a tray that, as it turns out, was never picked."""
    picked = PlantMovement.objects.standing().filter(tray=parent, kind="out")
    if parent.come_back_on is not None and not picked.exists():
        parent.come_back_on = None
        parent.save(update_fields=["come_back_on"])


def stand_up(tray: Tray, *, by: str, now: datetime) -> None:
    """Let a tray stand again whose only filling was taken back: it is filled, or looked at."""
    if tray.end == "cleared" and was_emptied(tray):
        stand_again(tray, by=by, now=now)


def clear_if_emptied(tray: Tray, *, now: datetime) -> None:
    """Clear a tray whose fillings were all taken back and at which nobody looked.

    So it ends alike, whether the look or the picking is struck out first.
    """
    if tray.ended_on is not None or not was_emptied(tray):
        return
    if TrayCheck.objects.standing().filter(tray=tray).exists():
        return
    filled = PlantMovement.objects.filter(to_tray=tray).order_by("-on").first()
    last = tray.started_on if filled is None else filled.on
    end_tray(tray, on=max(tray.started_on, last), end="cleared", now=now)
