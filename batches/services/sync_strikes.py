"""A strike-out arrives from a tablet: what happens to what it names, and if it comes before it?"""

from __future__ import annotations

import contextlib
from datetime import datetime
from uuid import UUID

from batches.core.errors import NurseryError, UnknownCode
from batches.models import PlantMovement, ToSettle, Tray, TrayCheck
from batches.services.picking_undone import clear_if_emptied, rows_of_picking, take_back
from batches.services.set_aside import forget, judge_again
from batches.services.strikes import StrikeResult, strike_out
from batches.services.sync_faults import alone
from batches.services.sync_items import Item, ItemAnswer, Sender, struck_id, told

_STRUCK_ALREADY = "struck out already"


def strike_sent(item: Item, sender: Sender, now: datetime) -> ItemAnswer:
    """Strike out the look or picking that an item names; `UnknownCode` while that is not here."""
    wanted = struck_id(item.raw)
    if wanted is None:
        raise UnknownCode("What to strike out is not named by its id.")
    struck = _strike(wanted, by=item.by, now=now, record_id=item.id)
    if struck is None:
        raise UnknownCode("What it strikes out has not arrived here.")
    status = "created"
    if not struck.created and struck.strike.pk != item.id:
        status = "merged"
        _keep_as_done(item, sender, now)
    elif not struck.created:
        status = "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=told(item, struck.message))


def _strike(wanted: UUID, *, by: str, now: datetime, record_id: UUID) -> StrikeResult | None:
    """Strike out a look or a picking and judge its trays anew; None while it has not arrived."""
    look = TrayCheck.objects.filter(pk=wanted).select_related("tray").first()
    if look is not None:
        result = strike_out(row=look, by=by, now=now, record_id=record_id)
        forget(look.pk, now=now)
        judge_again(tray=look.tray, now=now)
        clear_if_emptied(result.tray, now=now)
        return result
    rows = rows_of_picking(wanted)
    if not rows:
        return None
    result = take_back(rows, by=by, now=now, record_id=record_id)
    if result.created:
        for tray in Tray.objects.filter(pk__in=[result.tray.pk, *(row.to_tray_id for row in rows)]):
            judge_again(tray=tray, now=now)
    return result


def _keep_as_done(item: Item, sender: Sender, now: datetime) -> None:
    """Keep a strike-out of what another one had struck out before."""
    ToSettle.objects.create(
        id=item.id,
        item=dict(item.raw),
        reason="It had been struck out already.",
        by=item.by,
        at=item.at,
        device=sender.device,
        recorded_at=now,
        settled_at=now,
        settled_how=_STRUCK_ALREADY,
    )


def strike_what_waited(now: datetime) -> set[str]:
    """Strike out what was struck out before it came; return the codes of its trays."""
    struck: set[str] = set()
    waiting = list(ToSettle.objects.open().filter(item__kind="strike_out").order_by("at", "id"))
    wanted = {struck_id(one.item) for one in waiting} - {None}
    if not wanted:
        return struck
    arrived = set(TrayCheck.objects.filter(pk__in=wanted).values_list("pk", flat=True))
    arrived |= set(PlantMovement.objects.filter(pk__in=wanted).values_list("pk", flat=True))
    for one in waiting:
        named = struck_id(one.item)
        if named is None or named not in arrived:
            continue
        with contextlib.suppress(NurseryError), alone(f"strike_out {one.pk}, which waited"):
            result = _strike(named, by=one.by, now=now, record_id=one.pk)
            if result is None:
                continue
            one.settled_at = now
            one.settled_how = "struck out when it arrived" if result.created else _STRUCK_ALREADY
            one.save(update_fields=["settled_at", "settled_how"])
            struck.add(result.tray.code)
    return struck
