"""How are fifty plain looks of a tablet stored at the cost of few?

“Nothing new”, a trouble, a note: such a look has no stage, count or loss, so nothing of it can
contradict the stock book or another look. Those of one message, at trays that the message names
once, are stored together and folded once. All else goes one by one (`checks.record_check`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from batches.core.errors import NurseryError
from batches.models import Device, Person, ToSettle, Tray, TrayCheck
from batches.services.check_words import known_signs
from batches.services.checks import message_of
from batches.services.days import local_day
from batches.services.standing import refold
from batches.services.sync_items import (
    YEARS,
    Item,
    flag_of,
    sequence_of,
    text_of,
    verified_of,
    words_of,
)
from batches.services.tray_life import require_looked_in_life, require_moment

_MOST_WORDS = 2_000
_NOT_PLAIN = ("stage_seen", "count", "about", "losses")


def facts_of_look(item: Item, *, person: Person | None, device: Device | None) -> dict[str, Any]:
    """Return what of a look cannot contradict anything, by the names of `record_check`."""
    return {
        "seen_at": item.at,
        "seen_at_device": item.said_at,
        "by": item.by,
        "person": person,
        "device": "" if device is None else device.name,
        "device_ref": device,
        "device_seq": sequence_of(item.raw),
        "by_verified": verified_of(item.raw),
        "opened": flag_of(item.raw, "opened"),
        "glance": flag_of(item.raw, "glance"),
        "note": text_of(item.raw.get("note"))[:_MOST_WORDS],
        "source": "tablet",
        "record_id": item.id,
    }


def record_plain_looks(
    *, items: Sequence[Item], person: Person | None, device: Device | None, now: datetime
) -> dict[UUID, str]:
    """Store those of a message's items that are plain looks, and return what to say of each.

    Whatever the answer does not name was not stored and goes the careful way: another kind, a code
    that is not exactly a tray's, a tray or an id named twice or known, a time out of time.
    """
    named = Counter(text_of(item.raw.get("tray")) for item in items)
    ids = Counter(item.id for item in items)
    plain = [
        item
        for item in items
        if _is_plain(item) and ids[item.id] == 1 and named[text_of(item.raw["tray"])] == 1
    ]
    if len(plain) < 2:
        return {}
    known = set(TrayCheck.objects.filter(pk__in=ids).values_list("pk", flat=True))
    known |= set(ToSettle.objects.filter(pk__in=ids).values_list("pk", flat=True))
    with transaction.atomic():
        trays = _held([text_of(item.raw["tray"]) for item in plain if item.id not in known])
        looks = []
        for item in plain:
            tray = trays.get(text_of(item.raw["tray"]))
            if tray is not None and item.id not in known and _in_time(item, tray, now):
                facts = facts_of_look(item, person=person, device=device)
                looks.append(_row(facts, signs=words_of(item.raw.get("signs")), tray=tray, now=now))
        TrayCheck.objects.bulk_create(looks)
        refold(trays=[look.tray for look in looks], recorded_at=now)
        folded = Tray.objects.in_bulk([look.tray_id for look in looks])
        return {look.id: message_of(look, folded[look.tray_id], (), None) for look in looks}


def _row(facts: Mapping[str, Any], *, signs: Sequence[str], tray: Tray, now: datetime) -> TrayCheck:
    kept = {name: value for name, value in facts.items() if name != "record_id"}
    return TrayCheck(
        **kept, id=facts["record_id"], tray=tray, signs=known_signs(signs), recorded_at=now
    )


def _is_plain(item: Item) -> bool:
    if item.kind != "check" or any(item.raw.get(name) for name in _NOT_PLAIN):
        return False
    if item.raw.get("count") is not None or item.at.year not in YEARS or not item.raw.get("tray"):
        return False
    try:
        signs = known_signs(words_of(item.raw.get("signs")))
    except NurseryError:
        return False
    return not (signs and flag_of(item.raw, "glance"))


def _held(codes: Sequence[str]) -> dict[str, Tray]:
    """Return the trays of these very codes, held for this transaction in one order."""
    rows = Tray.objects.filter(code__in=codes).order_by("pk")
    rows = rows.select_for_update(of=("self",)).select_related("batch__taxon")
    return {tray.code: tray for tray in rows}


def _in_time(item: Item, tray: Tray, now: datetime) -> bool:
    try:
        require_moment(item.at, now=now)
        require_looked_in_life(tray, local_day(item.at))
    except NurseryError:
        return False
    return True
