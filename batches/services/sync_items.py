"""What does a tablet's message say, item by item, and which of it can be read?

A body is of the agreed form or not; an item has a known kind, an id and a time or not. All else
is read as far as it goes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.utils.dateparse import parse_datetime

from batches.core.errors import NurseryError, UnknownCode
from batches.models import Device, Person, ToSettle

MOST_ITEMS = 50
#: a device's clock further off is corrected; from the second on, people are told both times
SKEW_CORRECTED = timedelta(minutes=2)
SKEW_TOLD = timedelta(minutes=5)
#: a clock that says another year than these is not worth reckoning with
YEARS = range(1960, 2201)

KINDS = frozenset({"check", "strike_out", "move", "prick_out", "pot_up", "isolate"})


class BadBody(NurseryError):
    """The body is not of the agreed form; nothing of it was stored."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """An item that can be read; ``at`` is its time put right, ``said_at`` the device's own."""

    id: UUID
    kind: str
    at: datetime
    said_at: datetime | None
    by: str
    raw: Mapping[str, Any]
    warning: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemAnswer:
    """``status`` is created, duplicate, merged, review, rejected or fault."""

    id: str
    status: str
    message: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sender:
    """Who sends: an enrolled tablet, or a signed-in person."""

    device: Device | None = None
    person: Person | None = None


class Unreadable(Exception):
    """An item of no known kind, without id or without time."""


def opened(body: object, now: datetime) -> tuple[Sequence[object], timedelta]:
    """Return the items of a body and how far its clock is off; raise `BadBody`."""
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
    if sent_at.year not in YEARS:
        raise BadBody(f"“sent_at” lies in the year {sent_at.year}: set the tablet's clock.")
    skew = now - sent_at
    return items, skew if abs(skew) > SKEW_CORRECTED else timedelta(0)


def read_item(raw: object, skew: timedelta) -> Item:
    """Return an item with its time put right; raise `Unreadable`."""
    if not isinstance(raw, dict):
        raise Unreadable("The item is no JSON object.")
    try:
        item_id = UUID(str(raw.get("id")))
    except ValueError:
        raise Unreadable("The item has no id of the UUID form.") from None
    kind = raw.get("kind")
    if not isinstance(kind, str) or kind not in KINDS:
        raise Unreadable(f"There is no kind “{str(kind)[:40]}”.")
    said_at = _moment(raw.get("occurred_at"))
    if said_at is None:
        raise Unreadable("“occurred_at” is no time with an offset.")
    warning = ""
    if said_at.year not in YEARS:
        skew = timedelta(0)
    at = said_at + skew
    # What the tablet put right itself, since its clock was set meanwhile, it says as well.
    said_at = said_by_device(raw) or said_at
    if abs(at - said_at) > SKEW_TOLD:
        warning = (
            f"The tablet's clock said {said_at:%d %b %Y %H:%M}; put right, it was "
            f"{at:%d %b %Y %H:%M}."
        )
    return Item(
        id=item_id,
        kind=kind,
        at=at,
        said_at=said_at if said_at != at else None,
        by=text_of(raw.get("by"))[:80],
        raw=_kept(raw),
        warning=warning,
    )


def item_again(waiting: ToSettle) -> Item:
    """Return an item that waits to be settled as it was read when it arrived."""
    said_at = said_by_device(waiting.item)
    at = waiting.at or waiting.recorded_at
    return Item(
        id=waiting.pk,
        kind=str(waiting.item.get("kind")),
        at=at,
        said_at=said_at if said_at != at else None,
        by=waiting.by,
        raw=waiting.item,
        warning="",
    )


def said_by_device(raw: Mapping[str, Any]) -> datetime | None:
    """Return the time that the tablet's clock showed; None where an item tells none."""
    own = _moment(raw.get("occurred_at_device"))
    return own if own is not None and own.year in YEARS else _moment(raw.get("occurred_at"))


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


def text_of(value: object) -> str:
    """Return a value as text, empty for none."""
    return str(value).replace("\x00", "").strip() if value is not None else ""


def struck_id(raw: Mapping[str, Any]) -> UUID | None:
    """Return the id of the look that a strike-out names; None when it names none."""
    try:
        return UUID(text_of(raw.get("strikes_out")))
    except ValueError:
        return None


def number_of(raw: Mapping[str, Any], name: str) -> int | None:
    """Return a whole number, None where none was given; raise `UnknownCode` for other things."""
    value = raw.get(name)
    if value is None or value == "":
        return None
    if isinstance(value, bool) or not isinstance(value, int):
        raise UnknownCode(f"“{name}” is no whole number.")
    return int(value)


def flag_of(raw: Mapping[str, Any], name: str) -> bool:
    """Tell whether the item says yes to it."""
    return raw.get(name) in (True, "yes")


def verified_of(raw: Mapping[str, Any]) -> bool | None:
    """Tell whether the name was proved by PIN or badge; None where the item does not say."""
    value = raw.get("by_verified")
    return value if isinstance(value, bool) else None


def sequence_of(raw: Mapping[str, Any]) -> int | None:
    """Return the tablet's running number; None where there is none."""
    value = raw.get("device_seq")
    sound = isinstance(value, int) and not isinstance(value, bool) and abs(value) < 2**62
    return value if sound else None


def words_of(value: object) -> list[str]:
    """Return a list of words, empty for none; raise `UnknownCode` for other things."""
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
        raise UnknownCode("“signs” is no list of words.")
    return value


def losses_of(value: object) -> list[tuple[int, str]]:
    """Return losses as (how many, cause), empty for none; raise `UnknownCode` otherwise."""
    if value is None:
        return []
    if not isinstance(value, list) or not all(isinstance(loss, dict) for loss in value):
        raise UnknownCode("“losses” is no list of quantity and cause.")
    found = []
    for loss in value:
        quantity = number_of(loss, "quantity")
        if quantity is None:
            raise UnknownCode("A loss has no quantity.")
        found.append((quantity, text_of(loss.get("cause"))))
    return found


def told(item: Item, message: str) -> str:
    """Return what to say of an item, with a word on its clock where that was put right."""
    return f"{message} {item.warning}".strip()
