"""How does a tray end, and how is an ending taken back?"""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db import transaction

from batches.core.errors import NotPossibleNow
from batches.core.signs import CAUSE_WORDS, TROUBLES, Sign
from batches.core.stages import COVERED_STAGES, Stage
from batches.models import PlantMovement, Tray, TrayCheck
from batches.services.days import day_words, local_day
from batches.services.moves import make_room
from batches.services.standing import refold
from batches.services.stock_book import (
    Moment,
    require_balanced,
    settle_counts_after,
    strike_of,
    struck,
)
from batches.services.tray_life import (
    require_cause,
    require_day,
    require_last_day,
    require_standing,
    take,
)

#: a covered tray younger than this is not thrown out at first sight: common practice, no source
YOUNG_FOR = timedelta(days=180)
_ENDED = uuid.UUID("c1f7a4d2-5b0e-4f57-9a3c-7d1f0e8b6a25")
_MOST_ENDINGS = 40


class SecondLookNeeded(NotPossibleNow):
    """A young covered tray is to be discarded and nobody looked a second time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EndResult:
    """A tray that ended, or stands again; ``lost`` is what was written off, 0 when nothing was."""

    tray: Tray
    lost: int
    created: bool
    message: str


def clear(*, tray: Tray, on: date, now: datetime, revision: int | None = None) -> EndResult:
    """End a tray of which all has moved on; cleared before on that day, it stays so.

    Raises
    ------
    NotPossibleNow
        When something counted is left in it, or it has ended otherwise.
    OutOfTime, ChangedMeanwhile
        For a day in the future or before its last record; when somebody else wrote meanwhile.
    """
    require_day(on, now=now)
    with transaction.atomic():
        tray = take(tray, revision=revision)
        if tray.end == "cleared" and tray.ended_on == on:
            return EndResult(tray=tray, lost=0, created=False, message=_ended_words(tray, 0))
        require_standing(tray)
        require_last_day(tray, on)
        if tray.alive:
            raise NotPossibleNow(
                f"{tray.alive} {tray.unit} are still in tray {tray.code} by its stock book. "
                "Nothing was stored: move them on, log what was lost, or discard the tray.",
                field="end",
            )
        end_tray(tray, on=on, end="cleared", now=now)
    return EndResult(tray=tray, lost=0, created=True, message=_ended_words(tray, 0))


def discard(
    *,
    tray: Tray,
    cause: str,
    on: date,
    by: str,
    now: datetime,
    second_look: bool = False,
    revision: int | None = None,
) -> EndResult:
    """Throw a tray out; what is alive by its stock book is written off as lost to the cause.

    Parameters
    ----------
    cause : str
        One of `batches.core.signs.CAUSES`.
    second_look : bool
        Somebody looked a second time and confirms it (`needs_second_look` says when it is asked).

    Raises
    ------
    SecondLookNeeded
        For a young covered tray that nobody looked at a second time.
    NotPossibleNow, NotUnderstood, OutOfTime, ChangedMeanwhile
        When it has ended, the cause is not known or contradicts what was seen, the day is wrong,
        or somebody else wrote meanwhile.
    """
    require_day(on, now=now)
    require_cause(cause)
    with transaction.atomic():
        again = _discarded_before(tray, cause=cause, on=on)
        if again is not None:
            return again
        tray = take(tray, revision=revision)
        require_standing(tray)
        require_last_day(tray, on)
        _require_no_green(tray, cause)
        if not second_look and needs_second_look(tray=tray, cause=cause, on=on):
            raise SecondLookNeeded(
                f"Tray {tray.code} is young, and young prothalli are easily taken for moss, "
                "liverwort or algae: good trays were thrown out that way. Nothing was stored. Let "
                "somebody else look, or look again on another day, and confirm it.",
                field="second_look",
            )
        quantity = tray.alive or 0
        if quantity:
            PlantMovement.objects.create(
                id=_next_loss_id(tray),
                tray=tray,
                on=on,
                kind="loss",
                quantity=quantity,
                cause=cause,
                by=by.strip()[:80],
                recorded_at=now,
            )
        end_tray(tray, on=on, end="discarded", cause=cause, now=now)
    return EndResult(tray=tray, lost=quantity, created=True, message=_ended_words(tray, quantity))


def _discarded_before(tray: Tray, *, cause: str, on: date) -> EndResult | None:
    """Return the answer of the first time when this is stored already; None when it is new."""
    now = Tray.objects.filter(pk=tray.pk, end="discarded", ended_on=on, end_cause=cause)
    ended = now.select_related("batch__taxon", "bench").first()
    if ended is None:
        return None
    loss = _standing_loss(ended)
    lost = 0 if loss is None else loss.quantity
    return EndResult(tray=ended, lost=lost, created=False, message=_ended_words(ended, lost))


def needs_second_look(*, tray: Tray, cause: str, on: date) -> bool:
    """Tell whether discarding this tray asks for a second look first.

    So it is for a covered tray in its first 180 days, but for *no germination*; two close looks
    that showed the trouble, by two people or on two days, are a second look.
    """
    covered = Stage(tray.stage) in COVERED_STAGES
    if not covered or cause == "no_germination" or on - tray.started_on >= YOUNG_FOR:
        return False
    if cause not in TROUBLES:
        return True
    looks = [
        (local_day(look.seen_at), look.by)
        for look in TrayCheck.objects.standing().filter(tray=tray, glance=False)
        if Sign(cause) in look.sign_set
    ]
    return len({day for day, _ in looks}) < 2 and len({who for _, who in looks}) < 2


def reopen(*, tray: Tray, by: str, now: datetime, revision: int | None = None) -> EndResult:
    """Take an ending back: the tray stands again, and what was written off is struck out.

    A tray that stands stays as it is.
    """
    with transaction.atomic():
        tray = take(tray, revision=revision)
        if tray.ended_on is None:
            return EndResult(tray=tray, lost=0, created=False, message=f"Tray {tray.code} stands.")
        loss = _standing_loss(tray)
        if loss is not None:
            strike_id = uuid.uuid5(_ENDED, f"reopen|{loss.id}")
            strike_of(loss, strike_id=strike_id, by=by.strip()[:80], now=now).save(
                force_insert=True
            )
            moment = Moment(on=loss.on, recorded_at=loss.recorded_at)
            settle_counts_after(tray, moment, by=by, now=now)
        stand_again(tray, by=by, now=now)
        require_balanced([tray])
        refold(trays=[tray], recorded_at=now)
        tray.refresh_from_db()
    back = f"; {loss.quantity} {tray.unit} are back in its stock book" if loss is not None else ""
    return EndResult(
        tray=tray, lost=0, created=True, message=f"Tray {tray.code} stands again{back}."
    )


def end_tray(tray: Tray, *, on: date, end: str, cause: str = "", now: datetime) -> None:
    """Set a tray's ending and fold it; the deed's own rows are stored before."""
    tray.ended_on, tray.end, tray.end_cause = on, end, cause
    tray.come_back_on = None
    tray.save(update_fields=["ended_on", "end", "end_cause", "come_back_on"])
    refold(trays=[tray], recorded_at=now)
    tray.refresh_from_db()


def stand_again(tray: Tray, *, by: str, now: datetime) -> None:
    """Blank a tray's ending; the caller folds it.

    Where another tray was set on its place meanwhile, it stands loose on the bench.
    """
    tray.ended_on, tray.end, tray.end_cause = None, "", ""
    tray.save(update_fields=["ended_on", "end", "end_cause"])
    make_room(tray, by=by, now=now)


def _loss_ids(tray: Tray) -> list[UUID]:
    return [uuid.uuid5(_ENDED, f"{tray.code}|{time}") for time in range(_MOST_ENDINGS)]


def _standing_loss(tray: Tray) -> PlantMovement | None:
    """Return the loss that the tray's discard wrote; None when it wrote none."""
    rows = PlantMovement.objects.filter(id__in=_loss_ids(tray)).select_related("struck_by")
    return next((row for row in rows if not struck(row)), None)


def _next_loss_id(tray: Tray) -> UUID:
    ids = _loss_ids(tray)
    used = set(PlantMovement.objects.filter(id__in=ids).values_list("id", flat=True))
    return next((row_id for row_id in ids if row_id not in used), uuid.uuid4())


def _require_no_green(tray: Tray, cause: str) -> None:
    if cause == "no_germination" and tray.stage != Stage.SOWN:
        raise NotPossibleNow(
            f"Green was seen in tray {tray.code} ({day_words(tray.stage_seen_on)}): it did "
            "germinate. Nothing was stored; choose what went wrong after that.",
            field="cause",
        )


def _ended_words(tray: Tray, lost: int) -> str:
    if tray.end == "cleared":
        return f"Tray {tray.code} is cleared."
    words = CAUSE_WORDS[tray.end_cause]
    counted = f"; {lost} {tray.unit} written off as lost" if lost else ""
    return f"Tray {tray.code} is discarded ({words}){counted}."
