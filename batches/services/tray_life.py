"""May a deed be done to this tray, on this day; and if not, what became of the tray?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta

from django.db.models import F

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.core.signs import CAUSE_WORDS, CAUSES
from batches.models import PlantMovement, Tray, TrayCheck
from batches.services.days import day_words, local_day
from batches.services.standing import claim

#: how far a clock may run ahead before its times count as the future
CLOCK_SLACK = timedelta(minutes=5)
_MOST_AT_ONCE = 400


def take(tray: Tray, *, revision: int | None = None, bump: bool = True) -> Tray:
    """Claim the tray for a deed and return it as it is now; call it inside ``atomic()``.

    With ``bump`` False it is only held: forms that others were shown stay good.

    Raises
    ------
    ChangedMeanwhile
        When ``revision`` is given and somebody else wrote since.
    """
    if bump or revision is not None:
        claim(tray, revision=revision)
    rows = Tray.objects.select_for_update(of=("self",))
    return rows.select_related("batch__taxon", "bench").get(pk=tray.pk)


def take_all(trays: Iterable[Tray], *, revisions: Mapping[int, int] | None = None) -> list[Tray]:
    """Claim many trays at once and return them as they are now, by code; errors as `take`.

    ``revisions`` holds, by tray id, the revision a page was shown with; others are just claimed.
    """
    wanted = {tray.pk: tray for tray in trays}
    shown = revisions or {}
    plain = sorted(pk for pk in wanted if pk not in shown)
    everyone = sorted(wanted)
    for start in range(0, len(everyone), _MOST_AT_ONCE):
        # Held in one order by everybody, so that two deeds never wait for each other.
        some = Tray.objects.filter(pk__in=everyone[start : start + _MOST_AT_ONCE])
        list(some.order_by("pk").select_for_update().values_list("pk"))
    for pk in sorted(pk for pk in wanted if pk in shown):
        claim(wanted[pk], revision=shown[pk])
    found: list[Tray] = []
    for start in range(0, len(plain), _MOST_AT_ONCE):
        Tray.objects.filter(pk__in=plain[start : start + _MOST_AT_ONCE]).update(
            revision=F("revision") + 1
        )
    for start in range(0, len(everyone), _MOST_AT_ONCE):
        found += Tray.objects.select_related("batch__taxon", "bench").filter(
            pk__in=everyone[start : start + _MOST_AT_ONCE]
        )
    return sorted(found, key=lambda tray: tray.code)


def what_became_of(tray: Tray) -> str:
    """Return one sentence on how a tray ended, or that it still stands."""
    if tray.ended_on is None:
        return f"Tray {tray.code} still stands."
    day = day_words(tray.ended_on)
    if tray.end == "discarded":
        cause = CAUSE_WORDS.get(tray.end_cause, "")
        return f"Tray {tray.code} was discarded on {day}" + (f" ({cause})." if cause else ".")
    if tray.end == "dispatched":
        last = (
            PlantMovement.objects.standing()
            .filter(tray=tray, kind="dispatch")
            .exclude(recipient="")
            .order_by("on", "recorded_at")
            .last()
        )
        went = f"; the last of it went to {last.recipient}" if last is not None else ""
        return f"Tray {tray.code} was dispatched on {day}{went}."
    codes = list(
        Tray.objects.filter(arrivals__tray=tray, arrivals__struck_by__isnull=True)
        .order_by("code")
        .values_list("code", flat=True)
        .distinct()
    )
    went = f"; what it held moved on to {in_a_row(codes)}" if codes else ""
    return f"Tray {tray.code} was cleared on {day}{went}."


def in_a_row(codes: Sequence[str], *, most: int = 4) -> str:
    """Return codes as a sentence names them: “A, B and C”, “A, B, C, D and 12 more”."""
    if len(codes) > most:
        return f"{', '.join(codes[:most])} and {len(codes) - most} more"
    if len(codes) < 2:
        return "".join(codes)
    return f"{', '.join(codes[:-1])} and {codes[-1]}"


def require_standing(tray: Tray) -> None:
    """Raise `NotPossibleNow`, saying what became of it, when the tray has ended."""
    if tray.ended_on is not None:
        raise NotPossibleNow(
            f"{what_became_of(tray)} Nothing was stored. If the tray stands there all the same, "
            "take its ending back first, or look at its label again.",
            field="tray",
        )


def require_looked_in_life(tray: Tray, day: date) -> None:
    """Raise when the day lies before the tray's start, or on or after the day it ended.

    A look from before the ending that arrives late still counts.
    """
    require_since(tray, day, field="seen_at")
    if tray.ended_on is not None and day >= tray.ended_on:
        require_standing(tray)


def require_since(tray: Tray, day: date, *, field: str = "on") -> None:
    """Raise `OutOfTime` when the day lies before the tray was started."""
    if day < tray.started_on:
        raise OutOfTime(
            f"{day_words(day)} lies before tray {tray.code} was started "
            f"({day_words(tray.started_on)}). Nothing was stored; look at the date again.",
            field=field,
        )


def last_day_on_record(tray: Tray) -> date:
    """Return the day of the last thing that stands on record of a tray, its start at the least."""
    looked = TrayCheck.objects.standing().filter(tray=tray).order_by("seen_at").last()
    moved = PlantMovement.objects.standing().touching(tray).order_by("on").last()
    days = [tray.started_on]
    days += [] if looked is None else [local_day(looked.seen_at)]
    days += [] if moved is None else [moved.on]
    return max(days)


def require_last_day(tray: Tray, day: date) -> None:
    """Raise `OutOfTime` when something stands on record of the tray after the day it is to end."""
    last = last_day_on_record(tray)
    if day < last:
        raise OutOfTime(
            f"Tray {tray.code} has records up to {day_words(last)}; it cannot have ended on "
            f"{day_words(day)}. Nothing was stored; look at the date again.",
            field="on",
        )


def require_day(day: date, *, now: datetime, field: str = "on") -> None:
    """Raise `OutOfTime` when the day lies in the nursery's future."""
    if day > local_day(now):
        raise OutOfTime(
            f"{day_words(day)} lies in the future. Nothing was stored; look at the date again.",
            field=field,
        )


def require_moment(moment: datetime, *, now: datetime, field: str = "seen_at") -> None:
    """Raise when a moment has no time zone or lies more than five minutes ahead of now."""
    if moment.tzinfo is None:
        raise NotUnderstood("The time says no time zone. Nothing was stored.", field=field)
    if moment > now + CLOCK_SLACK:
        raise OutOfTime(
            "The time lies in the future. Nothing was stored; look at the clock of this device "
            "and at the date again.",
            field=field,
        )


def require_losses(losses: Sequence[tuple[int, str]]) -> tuple[tuple[int, str], ...]:
    """Return losses as (how many, cause) when all are understood; an empty cause is “unknown”.

    Raises
    ------
    NotUnderstood
        When a number is below one or a cause is not one of `batches.core.signs.CAUSES`.
    """
    known = []
    for quantity, cause in losses:
        if quantity < 1:
            raise NotUnderstood(
                "A loss is a whole number from 1 up. Nothing was stored.", field="losses"
            )
        known.append((quantity, require_cause(cause or "unknown", field="losses")))
    return tuple(known)


def require_cause(cause: str, *, field: str = "cause") -> str:
    """Return the cause when the records know it, else raise `NotUnderstood`."""
    if cause not in CAUSES:
        raise NotUnderstood(
            f"“{cause[:40]}” is not a cause the records know. Nothing was stored; choose one of: "
            f"{', '.join(CAUSE_WORDS[word] for word in CAUSES)}.",
            field=field,
        )
    return cause
