"""What a tablet saw and did arrives: what is stored, and what waits for the manager?

The server never refuses what happened at the bench. Every item gets its own answer; the same item
twice is once; what contradicts the records is kept outside the stock book until somebody settles
it. Only what cannot be read at all is rejected.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.dateparse import parse_datetime

from batches.core.errors import AlreadyTaken, NurseryError, UnknownCode
from batches.models import Bench, Device, Person, ToSettle, Tray, TrayCheck
from batches.services.checks import record_check
from batches.services.codes import find_tray
from batches.services.days import local_day
from batches.services.moves import move
from batches.services.strikes import strike_out

MOST_ITEMS = 50
#: a device's clock further off is corrected; from the second on, people are told both times
SKEW_CORRECTED = timedelta(minutes=2)
SKEW_TOLD = timedelta(minutes=5)
_MOST_WORDS = 2_000


class BadBody(NurseryError):
    """The body is not of the agreed form; nothing of it was stored."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemAnswer:
    """``status`` is created, duplicate, merged, review or rejected."""

    id: str
    status: str
    message: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sender:
    """Who sends: an enrolled tablet, or a signed-in person."""

    device: Device | None = None
    person: Person | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Item:
    """An item that can be read; ``at`` is its time put right, ``said_at`` the device's own."""

    id: UUID
    kind: str
    at: datetime
    said_at: datetime | None
    by: str
    raw: Mapping[str, Any]
    warning: str


class _Unreadable(Exception):
    """An item of no known kind, without id or without time."""


def take_items(*, body: object, sender: Sender, now: datetime) -> tuple[ItemAnswer, ...]:
    """Store what a tablet sends and return an answer for each item, in order.

    Each item stands in a savepoint of its own; the whole batch is committed before this returns.

    Raises
    ------
    BadBody
        When the body as a whole is not of the form; nothing is stored.
    """
    items, skew = _opened(body, now)
    with transaction.atomic():
        return tuple(_answer(raw, skew, sender, now) for raw in items)


def _opened(body: object, now: datetime) -> tuple[Sequence[object], timedelta]:
    if not isinstance(body, dict):
        raise BadBody("The body is no JSON object.")
    items = body.get("items")
    if not isinstance(items, list):
        raise BadBody("“items” is no list.")
    if len(items) > MOST_ITEMS:
        raise BadBody(f"{len(items)} items are too many; send at most {MOST_ITEMS} at once.")
    sent_at = _moment(body.get("sent_at"))
    if sent_at is None:
        raise BadBody("“sent_at” is no time with an offset, such as 2026-06-10T09:00:00+01:00.")
    skew = now - sent_at
    return items, skew if abs(skew) > SKEW_CORRECTED else timedelta(0)


def _answer(raw: object, skew: timedelta, sender: Sender, now: datetime) -> ItemAnswer:
    try:
        item = _read(raw, skew)
    except _Unreadable as error:
        named = raw.get("id") if isinstance(raw, dict) else None
        return ItemAnswer(id=str(named or ""), status="rejected", message=str(error))
    again = _settled_before(item)
    if again is not None:
        return again
    try:
        with transaction.atomic():
            return _DEEDS[item.kind](item, sender, now)
    except AlreadyTaken as error:
        return ItemAnswer(id=str(item.id), status="rejected", message=error.message)
    except NurseryError as error:
        return _keep(item, error, sender, now)


def _read(raw: object, skew: timedelta) -> _Item:
    if not isinstance(raw, dict):
        raise _Unreadable("The item is no JSON object.")
    try:
        item_id = UUID(str(raw.get("id")))
    except ValueError:
        raise _Unreadable("The item has no id of the UUID form.") from None
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in _DEEDS:
        raise _Unreadable(f"There is no kind “{str(kind)[:40]}”.")
    said_at = _moment(raw.get("occurred_at"))
    if said_at is None:
        raise _Unreadable("“occurred_at” is no time with an offset.")
    warning = ""
    if abs(skew) > SKEW_TOLD:
        warning = (
            f"The tablet's clock said {said_at:%d %b %Y %H:%M}; put right, it was "
            f"{said_at + skew:%d %b %Y %H:%M}."
        )
    return _Item(
        id=item_id,
        kind=kind,
        at=said_at + skew,
        said_at=said_at if skew else None,
        by=_text(raw.get("by"))[:80],
        raw=_kept(raw),
        warning=warning,
    )


def _kept(value: Any) -> Any:
    """Return a JSON value as every database can keep it: without NUL and broken surrogates."""
    if isinstance(value, str):
        return value.replace("\x00", "").encode("utf-8", "replace").decode("utf-8")
    if isinstance(value, list):
        return [_kept(one) for one in value]
    if isinstance(value, dict):
        return {_kept(name): _kept(one) for name, one in value.items()}
    return value


def _moment(text: object) -> datetime | None:
    try:
        found = parse_datetime(text) if isinstance(text, str) else None
    except ValueError:
        return None
    return found if found is not None and found.tzinfo is not None else None


def _text(value: object) -> str:
    return str(value).replace("\x00", "").strip() if value is not None else ""


def _settled_before(item: _Item) -> ItemAnswer | None:
    known = ToSettle.objects.filter(pk=item.id).first()
    if known is None:
        return None
    if known.item == dict(item.raw):
        return ItemAnswer(id=str(item.id), status="duplicate", message=known.reason)
    return ItemAnswer(
        id=str(item.id), status="rejected", message="This id stands for another item already."
    )


def _look(item: _Item, sender: Sender, now: datetime) -> ItemAnswer:
    tray = _tray(item)
    stage = _text(item.raw.get("stage_seen"))
    merged = bool(stage) and stage == tray.stage and stage != tray.start_stage
    result = record_check(
        tray=tray,
        now=now,
        stage_seen=stage,
        count=_number(item.raw, "count"),
        about=_flag(item.raw, "about"),
        signs=_words(item.raw.get("signs")),
        losses=_losses(item.raw.get("losses")),
        above_stock=False,
        **_plain(item, sender),
    )
    status = ("merged" if merged else "created") if result.created else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=_told(item, result.message))


def _plain(item: _Item, sender: Sender) -> dict[str, Any]:
    """Return what of a look cannot contradict anything."""
    glance = _flag(item.raw, "glance")
    return {
        "seen_at": item.at,
        "seen_at_device": item.said_at,
        "by": item.by,
        "person": sender.person,
        "device": "" if sender.device is None else sender.device.name,
        "device_ref": sender.device,
        "device_seq": _sequence(item.raw),
        "opened": _flag(item.raw, "opened"),
        "glance": glance,
        "note": _text(item.raw.get("note"))[:_MOST_WORDS],
        "source": "tablet",
        "record_id": item.id,
    }


def _strike(item: _Item, sender: Sender, now: datetime) -> ItemAnswer:  # noqa: ARG001
    try:
        wanted = UUID(_text(item.raw.get("strikes_out")))
    except ValueError:
        raise UnknownCode("The look to strike out is not named by its id.") from None
    row = TrayCheck.objects.filter(pk=wanted).select_related("tray").first()
    if row is None:
        raise UnknownCode("The look to strike out has not arrived here.")
    result = strike_out(row=row, by=item.by, now=now, record_id=item.id)
    status = "created" if result.created else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=_told(item, result.message))


def _move(item: _Item, sender: Sender, now: datetime) -> ItemAnswer:  # noqa: ARG001
    code = _text(item.raw.get("bench"))
    bench = Bench.objects.filter(code=code).first()
    if bench is None:
        raise UnknownCode(f"There is no bench “{code[:40]}”.")
    result = move(
        trays=[_tray(item)],
        bench=bench,
        row=_number(item.raw, "row"),
        column=_number(item.raw, "column"),
        on=local_day(item.at),
        by=item.by,
        now=now,
        record_id=item.id,
    )
    status = "created" if result.created else "duplicate"
    return ItemAnswer(id=str(item.id), status=status, message=_told(item, result.message))


_DEEDS: dict[str, Callable[[_Item, Sender, datetime], ItemAnswer]] = {
    "check": _look,
    "strike_out": _strike,
    "move": _move,
}


def _keep(item: _Item, error: NurseryError, sender: Sender, now: datetime) -> ItemAnswer:
    """Keep an item that contradicts the records: a look's plain part, and all of it to settle."""
    tray = None
    with contextlib.suppress(NurseryError):
        tray = _tray(item)
    if tray is not None and item.kind == "check":
        # It may not be a row of this tray at all: before its start, after its end.
        with contextlib.suppress(NurseryError), transaction.atomic():
            record_check(tray=tray, now=now, **_plain(item, sender))
    ToSettle.objects.create(
        id=item.id,
        item=dict(item.raw),
        reason=error.message[:300],
        tray=tray,
        by=item.by,
        recorded_at=now,
    )
    return ItemAnswer(id=str(item.id), status="review", message=_told(item, error.message))


def _tray(item: _Item) -> Tray:
    return find_tray(_text(item.raw.get("tray"))[:200])


def _told(item: _Item, message: str) -> str:
    return f"{message} {item.warning}".strip()


def _number(raw: Mapping[str, Any], name: str) -> int | None:
    value = raw.get(name)
    if value is None or value == "":
        return None
    if isinstance(value, bool) or not isinstance(value, int):
        raise UnknownCode(f"“{name}” is no whole number.")
    return int(value)


def _flag(raw: Mapping[str, Any], name: str) -> bool:
    return raw.get(name) in (True, "yes")


def _sequence(raw: Mapping[str, Any]) -> int | None:
    value = raw.get("device_seq")
    sound = isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**62
    return value if sound else None


def _words(value: object) -> list[str]:
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
        raise UnknownCode("“signs” is no list of words.")
    return value


def _losses(value: object) -> list[tuple[int, str]]:
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(loss, dict) for loss in value):
        raise UnknownCode("“losses” is no list of quantity and cause.")
    found = []
    for loss in value:
        quantity = _number(loss, "quantity")
        if quantity is None:
            raise UnknownCode("A loss has no quantity.")
        found.append((quantity, _text(loss.get("cause"))))
    return found
