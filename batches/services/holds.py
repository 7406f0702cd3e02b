"""Which trays are held back, why, and who may let them go?

An alarm holds many trays at once. A hold is a row that is only ever added; lifting it adds a row
that names it and says why. Plants picked out of a held tray stay held where they went.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Count, F, Min, QuerySet

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.models import Person, Tray, TrayHold
from batches.services.days import day_words, local_day

_CHUNK = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """The trays held for one reason: how many still are, since when, by whom."""

    id: UUID
    reason: str
    traced_from: str
    by: str
    since: datetime
    trays: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldResult:
    """What a hold did; ``created`` is False when it was stored before."""

    alarm: UUID
    held: int
    ended: int
    created: bool
    message: str


def hold_trays(
    *,
    codes: Collection[str],
    reason: str,
    traced_from: str,
    by: str,
    now: datetime,
    record_id: UUID | None = None,
) -> HoldResult:
    """Hold the trays of these codes that still stand; sent again, nothing is held twice.

    Raises
    ------
    NotUnderstood
        Without a reason.
    NotPossibleNow
        When none of them stands.
    """
    why = reason.strip()
    if not why:
        raise NotUnderstood("Say why they are held; everybody will read it.", field="reason")
    alarm = record_id or uuid.uuid4()
    with transaction.atomic():
        before = TrayHold.objects.filter(alarm=alarm, strikes_out__isnull=True).count()
        if before:
            words = f"{_many(before)} held already: {why}"
            return HoldResult(alarm=alarm, held=before, ended=0, created=False, message=words)
        standing = _standing(codes)
        if not standing:
            raise NotPossibleNow("None of these trays stands any more: there is nothing to hold.")
        TrayHold.objects.bulk_create(
            (
                TrayHold(
                    alarm=alarm,
                    tray_id=pk,
                    reason=why[:300],
                    traced_from=traced_from[:160],
                    by=by.strip()[:80],
                    recorded_at=now,
                )
                for pk in standing
            ),
            batch_size=_CHUNK,
        )
    words = f"{_many(len(standing))} held: {why} Nothing of them leaves until a manager lifts it."
    return HoldResult(
        alarm=alarm,
        held=len(standing),
        ended=len(set(codes)) - len(standing),
        created=True,
        message=words,
    )


def lift_alarm(
    *, alarm: UUID, reason: str, by: str, now: datetime, codes: Collection[str] | None = None
) -> int:
    """Lift what an alarm still holds, or some trays of it; return how many trays it freed of it.

    Raises
    ------
    NotUnderstood
        Without a reason.
    NotPossibleNow
        When nothing of it is held any more: somebody else lifted it.
    """
    why = reason.strip()
    if not why:
        raise NotUnderstood("Say why it is lifted; it is kept beside the hold.", field="reason")
    with transaction.atomic():
        rows = list(TrayHold.objects.standing().filter(alarm=alarm).select_related("tray"))
        if codes is not None:
            rows = [row for row in rows if row.tray.code in codes]
        if not rows:
            raise NotPossibleNow("This is lifted already. Nothing was changed.")
        TrayHold.objects.bulk_create(
            (
                TrayHold(
                    alarm=alarm,
                    tray_id=row.tray_id,
                    reason=why[:300],
                    traced_from=row.traced_from,
                    by=by.strip()[:80],
                    recorded_at=now,
                    strikes_out=row,
                )
                for row in rows
            ),
            batch_size=_CHUNK,
        )
    return len(rows)


def hand_down(*, given: Iterable[tuple[Tray, Tray]], by: str, now: datetime) -> int:
    """Hold trays that were filled from held ones, by the same alarms; return how many rows."""
    pairs = list(given)
    holds: dict[int, list[TrayHold]] = {}
    for row in TrayHold.objects.standing().filter(tray__in=[parent.pk for parent, _ in pairs]):
        holds.setdefault(row.tray_id, []).append(row)
    if not holds:
        return 0
    children = [child.pk for _, child in pairs]
    known = set(
        TrayHold.objects.filter(tray__in=children, strikes_out__isnull=True).values_list(
            "alarm", "tray"
        )
    )
    rows = []
    for parent, child in pairs:
        for hold in holds.get(parent.pk, ()):
            if (hold.alarm, child.pk) not in known:
                known.add((hold.alarm, child.pk))
                rows.append(
                    TrayHold(
                        alarm=hold.alarm, tray=child, reason=hold.reason,
                        traced_from=hold.traced_from, by=by.strip()[:80], recorded_at=now,
                    )
                )  # fmt: skip
    TrayHold.objects.bulk_create(rows)
    return len(rows)


def held_now() -> QuerySet[TrayHold]:
    """Return the holds that hold, for asking which trays they name: ``.values("tray")``."""
    found: QuerySet[TrayHold] = TrayHold.objects.standing()
    return found


def held_of(*, codes: Sequence[str]) -> dict[str, str]:
    """Return, by code, why trays are held; those that are not are left out."""
    found: dict[str, str] = {}
    for start in range(0, len(codes), _CHUNK):
        rows = held_now().filter(tray__code__in=codes[start : start + _CHUNK])
        found |= dict(rows.order_by("-recorded_at").values_list("tray__code", "reason"))
    return found


def holds_of(*, tray: Tray) -> list[TrayHold]:
    """Return every hold a tray ever had, newest first, each with its lifting (``struck_by``)."""
    rows = TrayHold.objects.filter(tray=tray, strikes_out__isnull=True)
    return list(rows.select_related("struck_by").order_by("-recorded_at", "id"))


def trays_of_alarm(*, alarm: UUID) -> list[TrayHold]:
    """Return what an alarm held, in walking order, each with its tray and its lifting."""
    rows = TrayHold.objects.filter(alarm=alarm, strikes_out__isnull=True)
    return list(
        rows.select_related("struck_by", "tray__batch__taxon", "tray__bench__house").order_by(
            F("tray__bench__walk_order").asc(nulls_last=True), "tray__row", "tray__column",
            "tray__code",
        )
    )  # fmt: skip


def alarms_over(*, most: int = 50) -> list[TrayHold]:
    """Return the first row of each alarm that holds nothing any more, the newest first."""
    still = held_now().values("alarm")
    rows = TrayHold.objects.filter(strikes_out__isnull=True).exclude(alarm__in=still)
    first: dict[UUID, TrayHold] = {}
    for row in rows.order_by("-recorded_at", "id").iterator():
        first.setdefault(row.alarm, row)
        if len(first) >= most:
            break
    return list(first.values())


def alarms(*, alarm: UUID | None = None) -> tuple[Alarm, ...]:
    """Return the alarms that still hold standing trays, the oldest first; one query."""
    holds = held_now().filter(tray__ended_on__isnull=True)
    if alarm is not None:
        holds = holds.filter(alarm=alarm)
    rows = (
        holds.values("alarm", "reason", "traced_from")
        .annotate(since=Min("recorded_at"), who=Min("by"), trays=Count("tray"))
        .order_by("since", "alarm")
    )
    return tuple(
        Alarm(
            id=row["alarm"],
            reason=row["reason"],
            traced_from=row["traced_from"],
            by=row["who"],
            since=row["since"],
            trays=row["trays"],
        )
        for row in rows
    )


def who_may_lift() -> str:
    """Return the names of the managers, to be asked: “Greta Lunn or Una Tarn”."""
    managers = Person.objects.filter(role="manager", is_active=True).order_by("name")
    *names, last = managers.values_list("name", flat=True) or ("a manager",)
    return f"{', '.join(names)} or {last}" if names else last


def require_not_held(tray: Tray) -> None:
    """Raise `NotPossibleNow` when the tray is held; it says why, since when and whom to ask."""
    hold = held_now().filter(tray=tray).order_by("recorded_at").first()
    if hold is None:
        return
    by = f" by {hold.by}" if hold.by else ""
    raise NotPossibleNow(
        f"Tray {tray.code} is held since {day_words(local_day(hold.recorded_at))}{by}: "
        f"“{hold.reason}”. Nothing of it may leave, and nothing was stored. Ask {who_may_lift()}: "
        "a manager lifts it.",
        field="tray",
    )


def _standing(codes: Collection[str]) -> list[int]:
    found: list[int] = []
    ordered = sorted(set(codes))
    for start in range(0, len(ordered), _CHUNK):
        some = Tray.objects.active().filter(code__in=ordered[start : start + _CHUNK])
        found += some.values_list("pk", flat=True)
    return found


def _many(trays: int) -> str:
    return f"{trays} tray{'s are' if trays != 1 else ' is'}"
