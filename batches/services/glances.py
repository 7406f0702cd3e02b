"""A bench was looked over and all is well: which trays does that count for?

One row a tray. A glance satisfies the look that was due and proves nothing of a stage.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import AlreadyTaken, NotPossibleNow
from batches.models import Bench, Device, Person, Tray, TrayCheck
from batches.services.days import local_day
from batches.services.standing import refold
from batches.services.tray_life import in_a_row, require_moment

_CHUNK = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Skipped:
    """A tray a glance was not written for, and why, in words."""

    tray: Tray
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GlanceResult:
    """What a glance over many trays wrote; ``created`` is False when it was stored before."""

    checks: tuple[TrayCheck, ...]
    skipped: tuple[Skipped, ...]
    created: bool
    message: str


def record_glance(
    *,
    bench: Bench | None = None,
    trays: Iterable[Tray] = (),
    except_: Iterable[Tray] = (),
    seen_at: datetime | None,
    now: datetime,
    by: str,
    person: Person | None = None,
    device: str = "",
    device_ref: Device | None = None,
    device_seq: int | None = None,
    seen_at_device: datetime | None = None,
    source: str = "",
    note: str = "",
    record_id: UUID | None = None,
) -> GlanceResult:
    """Store “looked over, all well except …” for a bench, for named trays, or for both.

    Isolated trays count only when named; ended ones and those not started yet are skipped, with
    the reason. ``seen_at`` is None for just now: sent again, the glance keeps its first time. The
    number of queries does not grow with the number of trays.

    Raises
    ------
    OutOfTime, AlreadyTaken
        For a future time, or an id that stands for something else.
    NotPossibleNow
        When not one tray is left to write.
    """
    said, seen_at = seen_at_device or seen_at, seen_at or now
    require_moment(seen_at, now=now)
    anchor = record_id or uuid.uuid4()
    with transaction.atomic():
        again = _stored_before(anchor, said)
        if again is not None:
            return again
        held, skipped = _held(bench, list(trays), {tray.pk for tray in except_}, seen_at)
        if not held:
            raise NotPossibleNow(
                "No tray is left to write a glance for: "
                + (skipped[0].why if skipped else "the bench holds none but those excepted.")
            )
        checks = [
            TrayCheck(
                id=anchor if place == 0 else _id_of(anchor, tray),
                tray=tray,
                seen_at=seen_at,
                seen_at_device=seen_at_device,
                recorded_at=now,
                by=by.strip()[:80],
                person=person,
                device=device[:80],
                device_ref=device_ref,
                device_seq=device_seq,
                source=source[:20],
                glance=True,
                note=note.strip(),
            )
            for place, tray in enumerate(held)
        ]
        TrayCheck.objects.bulk_create(checks, batch_size=_CHUNK)
        refold(trays=held, recorded_at=now)
    return GlanceResult(
        checks=tuple(checks),
        skipped=tuple(skipped),
        created=True,
        message=_message(len(checks), skipped),
    )


def _id_of(anchor: UUID, tray: Tray) -> UUID:
    """Return the id of a tray's row; the first tray by code carries the glance's own id."""
    return uuid.uuid5(anchor, f"glance|{tray.code}")


def _stored_before(anchor: UUID, said: datetime | None) -> GlanceResult | None:
    first = TrayCheck.objects.filter(pk=anchor).select_related("tray").first()
    if first is None:
        return None
    if not first.glance or said not in {None, first.seen_at_device or first.seen_at}:
        raise AlreadyTaken(
            f"The id {anchor} stands for another record already, of tray {first.tray.code}. "
            "What was stored stays; this one needs an id of its own."
        )
    together = TrayCheck.objects.filter(
        glance=True, seen_at=first.seen_at, recorded_at=first.recorded_at
    ).select_related("tray")
    checks = tuple(
        check
        for check in together.order_by("tray__code")
        if check.id in {anchor, _id_of(anchor, check.tray)}
    )
    return GlanceResult(checks=checks, skipped=(), created=False, message=_message(len(checks), []))


def _held(
    bench: Bench | None, named: Sequence[Tray], excepted: set[int], seen_at: datetime
) -> tuple[list[Tray], list[Skipped]]:
    """Return the trays a glance counts for, by code, as they are now; and those it does not."""
    rows = Tray.objects.select_for_update(of=("self",)).select_related("batch__taxon", "bench")
    wanted: dict[int, Tray] = {}
    ids = [tray.pk for tray in named]
    for start in range(0, len(ids), _CHUNK):
        wanted |= {tray.pk: tray for tray in rows.filter(pk__in=ids[start : start + _CHUNK])}
    skipped: list[Skipped] = []
    if bench is not None:
        for tray in rows.active().filter(bench=bench):
            if tray.isolated and tray.pk not in wanted and tray.pk not in excepted:
                skipped.append(Skipped(tray=tray, why=f"{tray.code} is isolated: look at it last."))
            elif tray.pk not in wanted:
                wanted[tray.pk] = tray
    held = []
    day = local_day(seen_at)
    for tray in wanted.values():
        if tray.pk in excepted:
            continue
        if tray.ended_on is not None and tray.ended_on <= day:
            skipped.append(Skipped(tray=tray, why=f"{tray.code} has ended ({tray.end})."))
        elif day < tray.started_on:
            skipped.append(Skipped(tray=tray, why=f"{tray.code} was started after that."))
        else:
            held.append(tray)
    skipped.sort(key=lambda one: one.tray.code)
    return sorted(held, key=lambda tray: tray.code), skipped


def _message(how_many: int, skipped: Sequence[Skipped]) -> str:
    words = f"{how_many} {'tray' if how_many == 1 else 'trays'} looked over, all well."
    if skipped:
        words += f" Left out: {in_a_row([one.tray.code for one in skipped])}."
    return words
