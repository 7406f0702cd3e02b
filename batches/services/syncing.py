"""What a tablet saw and did arrives: what is stored, and what waits for the manager?

The server never refuses what happened at the bench. Every item gets its own answer; the same item
twice is once; what contradicts the records is kept outside the stock book until somebody settles
it. Only what cannot be read at all is rejected.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from batches.core.errors import AlreadyTaken, LedgerDoesNotBalance, NurseryError, OutOfTime
from batches.models import ToSettle, Tray, TrayCheck
from batches.services.checks import CheckResult, record_check
from batches.services.picking_undone import stand_up
from batches.services.plain_looks import facts_of_look, record_plain_looks
from batches.services.set_aside import is_waiting, judge_again, let_wait, make_room
from batches.services.stock_book import losses_of as losses_stored
from batches.services.sync_deeds import isolated_sent, move_sent, picking_sent, tray_of
from batches.services.sync_faults import alone, fault_answer
from batches.services.sync_items import (
    YEARS,
    BadBody,
    Item,
    ItemAnswer,
    Sender,
    Unreadable,
    flag_of,
    item_again,
    losses_of,
    number_of,
    opened,
    read_item,
    text_of,
    told,
    words_of,
)
from batches.services.sync_strikes import strike_sent, strike_what_waited
from batches.services.sync_waiting import codes_named, codes_touched, waiting_at

__all__ = ["BadBody", "ItemAnswer", "Sender", "take_items"]

#: what may be left out of a look that contradicts the records, the least of it first
_LEFT_OUT: tuple[tuple[str, ...], ...] = (
    (),
    ("count", "about"),
    ("losses",),
    ("stage_seen",),
    ("signs",),
    ("count", "about", "losses"),
    ("count", "about", "stage_seen"),
    ("losses", "stage_seen"),
    ("count", "about", "losses", "stage_seen"),
    ("count", "about", "losses", "stage_seen", "signs"),
)


def take_items(*, body: object, sender: Sender, now: datetime) -> tuple[ItemAnswer, ...]:
    """Store what a tablet sends and return an answer for each item, in order.

    Plain looks are stored together (`plain_looks`), every other item in a savepoint of its own, so
    that a fault of the program fails no other (`sync_faults`); the whole batch is committed before
    this returns.

    Raises
    ------
    BadBody
        When the body as a whole is not of the form; nothing is stored.
    """
    items, skew = opened(body, now)
    read = [_read(raw, skew, sender) for raw in items]
    with transaction.atomic():
        stored: Mapping[UUID, str] = {}
        with alone("plain looks"):
            stored = record_plain_looks(
                items=[one for one in read if isinstance(one, Item)],
                person=sender.person,
                device=sender.device,
                now=now,
            )
        answers = tuple(_answer(one, stored, sender, now) for one in read)
        touched = codes_touched(items) | strike_what_waited(now)
        _do_what_can_be_done_now(touched, now)
    return answers


def _read(raw: object, skew: timedelta, sender: Sender) -> Item | ItemAnswer:
    """Return an item, or the answer to what cannot be read."""
    try:
        item = read_item(raw, skew)
    except Unreadable as error:
        named = raw.get("id") if isinstance(raw, dict) else None
        return ItemAnswer(id=str(named or ""), status="rejected", message=str(error))
    return item if item.by else replace(item, by=_sender_name(sender))


def _answer(
    item: Item | ItemAnswer, stored: Mapping[UUID, str], sender: Sender, now: datetime
) -> ItemAnswer:
    if isinstance(item, ItemAnswer):
        return item
    if item.id in stored:
        words = told(item, stored[item.id])
        answer = ItemAnswer(id=str(item.id), status="created", message=words)
    else:
        answer = fault_answer(item)
        with alone(f"{item.kind} {item.id}"):
            answer = _done(item, sender, now)
    # The tablet knows its item by the id as it wrote it, capitals or not.
    return replace(answer, id=str(item.raw["id"]))


def _sender_name(sender: Sender) -> str:
    """Return whom an item names that names nobody: every row of the records names somebody."""
    if sender.person is not None:
        return sender.person.name
    return "nobody named" if sender.device is None else sender.device.name


def _done(item: Item, sender: Sender, now: datetime) -> ItemAnswer:
    again = _settled_before(item)
    if again is not None:
        return again
    try:
        with transaction.atomic():
            if item.at.year not in YEARS:
                raise OutOfTime(f"The tablet's clock said the year {item.at.year}.")
            return _DEEDS[item.kind](item, sender, now)
    except AlreadyTaken as error:
        return ItemAnswer(id=str(item.id), status="rejected", message=error.message)
    except NurseryError as error:
        return _keep(item, error, sender, now)


def _settled_before(item: Item) -> ItemAnswer | None:
    known = ToSettle.objects.filter(pk=item.id).first()
    if known is None:
        return None
    if known.item == dict(item.raw):
        return ItemAnswer(id=str(item.id), status="duplicate", message=known.reason)
    return ItemAnswer(
        id=str(item.id), status="rejected", message="This id stands for another item already."
    )


def _look(item: Item, sender: Sender, now: datetime) -> ItemAnswer:
    tray = tray_of(item)
    if tray.ended_on is not None and not TrayCheck.objects.filter(pk=item.id).exists():
        stand_up(tray, by=item.by, now=now)
    stage = text_of(item.raw.get("stage_seen"))
    merged = bool(stage) and stage == tray.stage and stage != tray.start_stage
    result = _record(item, tray, sender, now)
    status = ("merged" if merged else "created") if result.created else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=told(item, result.message))


def _record(
    item: Item,
    tray: Tray,
    sender: Sender,
    now: datetime,
    *,
    without: tuple[str, ...] = (),
    as_seen: bool = False,
) -> CheckResult:
    raw = {name: value for name, value in item.raw.items() if name not in without}
    result = record_check(
        tray=tray,
        now=now,
        stage_seen=text_of(raw.get("stage_seen")),
        count=number_of(raw, "count"),
        about=flag_of(raw, "about"),
        signs=words_of(raw.get("signs")),
        losses=losses_of(raw.get("losses")),
        above_stock=as_seen,
        as_seen=as_seen,
        **facts_of_look(item, person=sender.person, device=sender.device),
    )
    check = result.check
    if as_seen and result.created:
        let_wait(check, losses_stored(check.id), now=now)
    if result.created and (check.stage_seen or check.count is not None or raw.get("losses")):
        judge_again(tray=result.tray, now=now, anew=as_seen)
    return result


def _move(item: Item, sender: Sender, now: datetime) -> ItemAnswer:  # noqa: ARG001
    result = move_sent(item, now=now)
    status = "created" if result.created else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=told(item, result.message))


def _isolate(item: Item, sender: Sender, now: datetime) -> ItemAnswer:  # noqa: ARG001
    changed, words = isolated_sent(item, now=now)
    status = "created" if changed else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=told(item, words))


def _picking(item: Item, sender: Sender, now: datetime) -> ItemAnswer:  # noqa: ARG001
    try:
        with transaction.atomic():
            result = picking_sent(item, now=now)
    except LedgerDoesNotBalance:
        # What was picked is in other trays: losses and counts of tablets give way.
        if not make_room(tray=tray_of(item), now=now):
            raise
        result = picking_sent(item, now=now)
    if result.created:
        for tray in (*result.parents, *result.children):
            judge_again(tray=tray, now=now)
    status = "created" if result.created else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=told(item, result.message))


def _do_what_can_be_done_now(touched: set[str], now: datetime) -> None:
    """Do again what waited for a tray or for an earlier deed that has arrived meanwhile.

    The earliest first, and again from the start after each that could be done: any order of
    arrival ends alike.
    """
    done = True
    while done:
        done = False
        for one in waiting_at(touched):
            if _done_again(one, now):
                touched |= codes_named(one.item) | strike_what_waited(now)
                done = True
                break


def _done_again(one: ToSettle, now: datetime) -> bool:
    item = item_again(one)
    with contextlib.suppress(NurseryError), alone(f"{item.kind} {item.id}, which waited"):
        _DEEDS[item.kind](item, Sender(device=one.device), now)
        one.settled_at, one.settled_how = now, "done when what it needed arrived"
        one.save(update_fields=["settled_at", "settled_how"])
        return True
    return False


_DEEDS: dict[str, Callable[[Item, Sender, datetime], ItemAnswer]] = {
    "check": _look,
    "strike_out": strike_sent,
    "move": _move,
    "isolate": _isolate,
    "prick_out": _picking,
    "pot_up": _picking,
}


def _keep(item: Item, error: NurseryError, sender: Sender, now: datetime) -> ItemAnswer:
    """Keep an item that contradicts the records: what of a look does not, and all to settle."""
    reason = error.message.replace("Nothing was stored", "It waits for the manager")
    answer = ItemAnswer(id=str(item.id), status="review", message=told(item, reason))
    tray = None
    with contextlib.suppress(NurseryError):
        tray = tray_of(item)
    # A look out of time, or at a tray that ended, may be no row of the tray at all.
    if tray is not None and item.kind == "check" and not isinstance(error, OutOfTime):
        for without in _LEFT_OUT:
            with contextlib.suppress(NurseryError), transaction.atomic():
                _record(item, tray, sender, now, without=without, as_seen=True)
                if not without and is_waiting(item.id):
                    return answer
                if not without and isinstance(error, LedgerDoesNotBalance):
                    # It came first: something later waits in its stead.
                    words = told(item, "Stored.")
                    return replace(answer, status="created", message=words)
                break
    ToSettle.objects.create(
        id=item.id,
        item=dict(item.raw),
        reason=reason[:300],
        tray=tray,
        by=item.by,
        at=item.at if item.at.year in YEARS else None,
        device=sender.device,
        recorded_at=now,
    )
    return answer
