"""A strike-out arrives from a tablet: what happens to its look, and when it comes before it?"""

from __future__ import annotations

import contextlib
from datetime import datetime

from batches.core.errors import NurseryError, UnknownCode
from batches.models import ToSettle, TrayCheck
from batches.services.set_aside import forget, judge_again
from batches.services.strikes import strike_out
from batches.services.sync_faults import alone
from batches.services.sync_items import Item, ItemAnswer, Sender, struck_id, told

_STRUCK_ALREADY = "struck out already"


def strike_sent(item: Item, sender: Sender, now: datetime) -> ItemAnswer:
    """Strike out the look that an item names; raise `UnknownCode` while that has not arrived."""
    wanted = struck_id(item.raw)
    if wanted is None:
        raise UnknownCode("The look to strike out is not named by its id.")
    row = TrayCheck.objects.filter(pk=wanted).select_related("tray").first()
    if row is None:
        raise UnknownCode("The look to strike out has not arrived here.")
    result = strike_out(row=row, by=item.by, now=now, record_id=item.id)
    _look_is_gone(row, now)
    status = "created"
    if not result.created and result.strike.pk != item.id:
        status = "merged"
        _keep_as_done(item, sender, now)
    elif not result.created:
        status = "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=told(item, result.message))


def _keep_as_done(item: Item, sender: Sender, now: datetime) -> None:
    """Keep a strike-out of a look that another one had struck out before."""
    ToSettle.objects.create(
        id=item.id,
        item=dict(item.raw),
        reason="The look had been struck out already.",
        by=item.by,
        at=item.at,
        device=sender.device,
        recorded_at=now,
        settled_at=now,
        settled_how=_STRUCK_ALREADY,
    )


def _look_is_gone(look: TrayCheck, now: datetime) -> None:
    """Judge anew what contradicted a look that was struck out."""
    forget(look.pk, now=now)
    judge_again(tray=look.tray, now=now)


def strike_what_waited(now: datetime) -> set[str]:
    """Strike out looks whose strike-out came before them; return the codes of their trays."""
    struck: set[str] = set()
    waiting = list(ToSettle.objects.open().filter(item__kind="strike_out").order_by("at", "id"))
    wanted = {struck_id(one.item) for one in waiting}
    rows = TrayCheck.objects.filter(pk__in=[pk for pk in wanted if pk]).select_related("tray")
    arrived = {row.pk: row for row in rows}
    for one in waiting:
        row = arrived.get(struck_id(one.item) or one.pk)
        if row is None:
            continue
        with contextlib.suppress(NurseryError), alone(f"strike_out {one.pk}, which waited"):
            result = strike_out(row=row, by=one.by, now=now, record_id=one.pk)
            _look_is_gone(row, now)
            one.settled_at = now
            one.settled_how = "struck out when the look arrived"
            if not result.created:
                one.settled_how = _STRUCK_ALREADY
            one.save(update_fields=["settled_at", "settled_how"])
            struck.add(row.tray.code)
    return struck
