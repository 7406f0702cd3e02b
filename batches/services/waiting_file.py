"""A tablet that cannot send saved what it holds to a file: what of it is taken in?

The file holds the body of a message, of any length. It is taken in like a message, fifty items at
a time, and taking it in twice, or the tablet sending the same later, stores everything once.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta

from batches.core.errors import NurseryError
from batches.models import Device, Person
from batches.services.sync_items import MOST_ITEMS, BadBody
from batches.services.syncing import ItemAnswer, Sender, take_items

MOST_ITEMS_IN_A_FILE = 20_000


def take_waiting_file(
    *, data: bytes, device: Device | None, person: Person, now: datetime
) -> tuple[ItemAnswer, ...]:
    """Store what a tablet's file holds and return an answer for each item, in order.

    The file's ``clock_off_ms`` says how far the tablet's clock was behind the server's when both
    last spoke; without it the times hold as they are: when the file was saved tells nothing.

    Raises
    ------
    NurseryError
        When the file is none of a tablet's; nothing is stored.
    """
    try:
        body = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise _not_one() from None
    items = body.get("items") if isinstance(body, dict) else None
    if not isinstance(items, list) or len(items) > MOST_ITEMS_IN_A_FILE:
        raise _not_one()
    off = body.get("clock_off_ms")
    usable = isinstance(off, (int, float)) and not isinstance(off, bool) and abs(off) < 1e12
    skew = timedelta(milliseconds=off) if usable else timedelta(0)
    sender = Sender(device=device, person=None if device else person)
    answers: list[ItemAnswer] = []
    try:
        for start in range(0, len(items), MOST_ITEMS):
            lot = {"sent_at": (now - skew).isoformat(), "items": items[start : start + MOST_ITEMS]}
            answers += take_items(body=lot, sender=sender, now=now)
    except BadBody:
        raise _not_one() from None
    return tuple(answers)


def _not_one() -> NurseryError:
    return NurseryError(
        "This is no file that a tablet saved, or a part of one is missing. Nothing was stored; "
        "save it again on the tablet, under what waits there.",
        field="file",
    )
