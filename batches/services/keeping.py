"""How is a tray kept, under which lid and apart or not, and who changed that, when?"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Literal
from uuid import UUID

from django.db import transaction

from batches.core.errors import NotUnderstood
from batches.models import KeepingChange, Tray
from batches.models.tray import COVERS
from batches.services.days import local_day
from batches.services.tray_life import require_standing, take_all

_COVER_WORDS = {
    "closed": "Lid closed",
    "vented": "Lid vented",
    "off": "Lid taken off",
}


def set_cover(
    *,
    trays: Iterable[Tray],
    cover: str,
    by: str,
    now: datetime,
    revisions: Mapping[int, int] | None = None,
    record_id: UUID | None = None,
) -> tuple[Tray, ...]:
    """Set the cover of trays to ``closed``, ``vented`` or ``off``, and keep who did it.

    A tray that is covered so already gets no record; sent twice under one id it is done once.

    Raises
    ------
    NotUnderstood, NotPossibleNow, ChangedMeanwhile
        For another word, for a tray that has ended, when somebody else wrote meanwhile; then
        nothing is stored.
    """
    if cover not in {word for word, _ in COVERS}:
        raise NotUnderstood("A cover is closed, vented or off.", field="cover")
    return _set(
        trays, what="cover", value=cover, by=by, now=now, revisions=revisions, record_id=record_id
    )


def set_isolated(
    *,
    trays: Iterable[Tray],
    isolated: bool,
    by: str,
    now: datetime,
    revisions: Mapping[int, int] | None = None,
    record_id: UUID | None = None,
) -> tuple[Tray, ...]:
    """Set trays apart, or take them back among the others, and keep who did it; as `set_cover`."""
    return _set(
        trays, what="isolated", value=isolated, by=by, now=now, revisions=revisions,
        record_id=record_id,
    )  # fmt: skip


def keeping_words(row: KeepingChange) -> str:
    """Return a change of how a tray is kept as a sentence: “Lid vented; it was closed.”."""
    if row.what == "isolated":
        return "Isolated." if row.after else "Back among the others, no longer isolated."
    was = f"; it was {row.before}" if row.before else ""
    return f"{_COVER_WORDS[row.after]}{was}."


def _set(
    trays: Iterable[Tray],
    *,
    what: Literal["cover", "isolated"],
    value: str | bool,
    by: str,
    now: datetime,
    revisions: Mapping[int, int] | None,
    record_id: UUID | None,
) -> tuple[Tray, ...]:
    anchor = record_id or uuid.uuid4()
    with transaction.atomic():
        held = take_all(trays, revisions=revisions)
        ids = {tray.pk: uuid.uuid5(anchor, f"{what}|{value}|{tray.code}") for tray in held}
        done = set(
            KeepingChange.objects.filter(pk__in=ids.values()).values_list("tray_id", flat=True)
        )
        changed, rows = [], []
        for tray in held:
            if tray.pk in done:
                continue
            require_standing(tray)
            before = getattr(tray, what)
            if before == value:
                continue
            setattr(tray, what, value)
            changed.append(tray)
            rows.append(
                KeepingChange(
                    id=ids[tray.pk], tray=tray, on=local_day(now), what=what,
                    before=_stored(before), after=_stored(value), by=by.strip()[:80],
                    recorded_at=now,
                )
            )  # fmt: skip
        KeepingChange.objects.bulk_create(rows)
        Tray.objects.bulk_update(changed, [what], batch_size=200)
    return tuple(held)


def _stored(value: object) -> str:
    return value if isinstance(value, str) else "yes" * bool(value)
