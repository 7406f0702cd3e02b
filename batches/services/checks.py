"""Somebody looked at a tray: what is stored, and what follows from it?

A look is a fact. Its count and its losses are rows of the stock book dated by the look; a stage
seen is proved by the fold over all looks. The same look sent twice is stored once.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from batches.core.errors import AlreadyTaken, LedgerDoesNotBalance, NotPossibleNow, NotUnderstood
from batches.core.signs import SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS, Stage
from batches.models import Device, Person, PlantMovement, Tray, TrayCheck
from batches.services.check_words import known_count, known_signs, known_stage
from batches.services.days import day_words, local_day
from batches.services.stage_claims import stage_gone_back_from, state_correction
from batches.services.standing import refold
from batches.services.stock_book import (
    Moment,
    losses_of,
    recount_of,
    require_balanced,
    settle_counts_after,
    settle_new_count,
    take_out,
)
from batches.services.stock_row_ids import MOST_LOSSES, loss_id
from batches.services.suspicion import trays_under_suspicion
from batches.services.tray_life import (
    require_looked_in_life,
    require_losses,
    require_moment,
    take,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckResult:
    """A stored look. ``created`` is False when the same look was stored before.

    ``next_look_on`` is the day of the next look, None when none is due (a control of a batch that
    ended). ``recount`` is the row that made the stock book agree with the count; None when it
    agreed or nothing was counted exactly. ``message`` is for the person who looked.
    """

    check: TrayCheck
    tray: Tray
    created: bool
    next_look_on: date | None
    recount: PlantMovement | None
    message: str


def record_check(
    *,
    tray: Tray,
    seen_at: datetime | None,
    now: datetime,
    by: str,
    person: Person | None = None,
    device: str = "",
    device_ref: Device | None = None,
    device_seq: int | None = None,
    by_verified: bool | None = None,
    seen_at_device: datetime | None = None,
    source: str = "",
    stage_seen: str = "",
    count: int | None = None,
    about: bool = False,
    signs: Iterable[str] = (),
    opened: bool = False,
    glance: bool = False,
    note: str = "",
    losses: Sequence[tuple[int, str]] = (),
    record_id: UUID | None = None,
    revision: int | None = None,
    correction: bool = False,
    above_stock: bool = True,
    as_seen: bool = False,
) -> CheckResult:
    """Store a look with what was seen, counted and lost.

    Parameters
    ----------
    seen_at, seen_at_device : datetime
        When it happened, None for just now (sent again, the look keeps its first time);
        ``seen_at_device`` is what the device said, where its clock was put right.
    count : int, optional
        Alive after the losses of this look, in the tray's unit. An exact count that disagrees with
        the stock book writes the difference as a recount; an ``about`` never does.
    losses : sequence of (int, str)
        How many, and the cause; an empty cause is “unknown”.
    record_id : UUID, optional
        The look's own id, made where it was made.
    correction : bool
        Allow a stage earlier than the tray's; it is recorded as a correction.
    above_stock : bool
        With False, an exact count above the stock book is refused instead of recounted.
    as_seen : bool
        Store what was seen, whatever it contradicts: a stage that lies behind moves nothing back,
        count and losses stand beside the stock book until they are judged
        (`set_aside.let_wait`, `judge_again`).

    Raises
    ------
    NotUnderstood, OutOfTime, NotPossibleNow, LedgerDoesNotBalance, AlreadyTaken, ChangedMeanwhile
        Nothing is stored then; the message says why and what to do.
    """
    just_now = seen_at is None
    check = TrayCheck(
        id=record_id or uuid.uuid4(),
        tray=tray,
        seen_at=now if seen_at is None else seen_at,
        seen_at_device=seen_at_device,
        recorded_at=now,
        by=by.strip()[:80],
        person=person,
        device=device[:80],
        device_ref=device_ref,
        device_seq=device_seq,
        by_verified=by_verified,
        source=source[:20],
        stage_seen=known_stage(stage_seen),
        count=known_count(count, about=about),
        about=about,
        signs=known_signs(signs),
        opened=opened,
        glance=glance,
        note=note.strip(),
    )
    require_moment(check.seen_at, now=now)
    lost = require_losses(losses)
    if len(lost) > MOST_LOSSES:
        raise NotUnderstood(f"One look names at most {MOST_LOSSES} losses.", field="losses")
    again = _stored_before(check, lost, just_now=just_now) if record_id is not None else None
    if again is not None:
        return again
    try:
        with transaction.atomic():
            return _store(
                check,
                lost,
                revision=revision,
                correction=correction,
                above_stock=above_stock,
                as_seen=as_seen,
            )
    except IntegrityError:
        # The same look was being stored at the same time from another side.
        again = _stored_before(check, lost, just_now=just_now)
        if again is None:
            raise
        return again


def _store(
    check: TrayCheck,
    lost: tuple[tuple[int, str], ...],
    *,
    revision: int | None,
    correction: bool,
    above_stock: bool,
    as_seen: bool,
) -> CheckResult:
    now = check.recorded_at
    day = local_day(check.seen_at)
    # A plain look changes nothing that a form shown before it depends on.
    changes = bool(lost or check.stage_seen or check.count is not None or revision is not None)
    tray = take(check.tray, revision=revision, bump=changes)
    check.tray = tray
    require_looked_in_life(tray, day)
    _require_glance_is_bare(check, lost)
    backward_from = stage_gone_back_from(check, correction=correction, as_seen=as_seen)
    check.save(force_insert=True)
    if backward_from is not None:
        state_correction(check, backward_from)
    rows = PlantMovement.objects.bulk_create(
        PlantMovement(
            id=loss_id(check.id, place),
            tray=tray,
            on=day,
            kind="loss",
            quantity=quantity,
            cause=cause,
            by=check.by,
            recorded_at=now,
        )
        for place, (quantity, cause) in enumerate(lost)
    )
    if as_seen:
        take_out(rows, by=check.by, now=now)
    counted = check.count is not None and not check.about and not as_seen
    recount = settle_new_count(check) if counted else None
    if recount is not None and recount.kind == "recount" and recount.quantity > 0:
        _require_not_above(check, recount, above_stock=above_stock)
    if (lost or counted) and not as_seen:
        moment = Moment.of_look(check, recorded_at=now)
        settle_counts_after(tray, moment, by=check.by, now=now)
        require_balanced([tray])
    refold(trays=[tray], recorded_at=now)
    tray.refresh_from_db()
    return CheckResult(
        check=check,
        tray=tray,
        created=True,
        next_look_on=tray.look_due_on,
        recount=recount,
        message=message_of(check, tray, lost, recount),
    )


def _require_glance_is_bare(check: TrayCheck, lost: Sequence[tuple[int, str]]) -> None:
    if check.glance and (check.stage_seen or check.count is not None or check.signs or lost):
        raise NotPossibleNow(
            "A glance says that all is well and proves nothing more. Nothing was stored; log what "
            "was seen, counted or lost as a look.",
            field="glance",
        )


def _require_not_above(check: TrayCheck, recount: PlantMovement, *, above_stock: bool) -> None:
    if not above_stock:
        raise LedgerDoesNotBalance(
            f"{check.count} were counted in tray {check.tray.code}, {recount.quantity} more than "
            "its stock book holds. Nothing was stored; count again, or enter where they came from.",
            field="count",
        )


def _stored_before(
    check: TrayCheck, lost: tuple[tuple[int, str], ...], *, just_now: bool
) -> CheckResult | None:
    """Return the answer of the first time when this look is stored already; None when it is new."""
    stored = TrayCheck.objects.filter(pk=check.id).select_related("tray__batch__taxon").first()
    if stored is None:
        return None
    same = (
        stored.strikes_out_id is None
        and stored.tray_id == check.tray.pk
        and (just_now or _said_at(stored) == _said_at(check))
        and _content(stored) == _content(check)
        and losses_of(stored.id) == lost
    )
    if not same:
        raise AlreadyTaken(
            f"The id {check.id} stands for another record already, of tray {stored.tray.code}. "
            "What was stored stays; this one needs an id of its own."
        )
    recount = recount_of(stored.id)
    return CheckResult(
        check=stored,
        tray=stored.tray,
        created=False,
        next_look_on=stored.tray.look_due_on,
        recount=recount,
        message=message_of(stored, stored.tray, lost, recount),
    )


def _said_at(check: TrayCheck) -> datetime:
    """Return what the device said: a clock that was put right twice may differ a little."""
    return check.seen_at_device or check.seen_at


def _content(check: TrayCheck) -> tuple[object, ...]:
    return (
        check.by, check.stage_seen, check.count, check.about, check.signs, check.opened,
        check.glance, check.note,
    )  # fmt: skip


def message_of(
    check: TrayCheck,
    tray: Tray,
    lost: Sequence[tuple[int, str]],
    recount: PlantMovement | None,
) -> str:
    """Say to the person who looked what was stored, and when the next look is due."""
    seen = []
    if check.stage_seen:
        seen.append(STAGE_WORDS[Stage(check.stage_seen)])
    if check.count is not None:
        seen.append(f"{'about ' if check.about else ''}{check.count} {tray.unit}")
    if lost:
        seen.append(f"{sum(quantity for quantity, _ in lost)} lost")
    seen += [SIGN_WORDS[sign] for sign in Sign if sign in check.sign_set]
    words = [f"{tray.code}: {', '.join(seen) or 'looked, nothing new'}."]
    if recount is not None and recount.kind == "recount":
        words.append(f"The stock book differed: {recount.quantity:+d} written as a recount.")
    if Sign.ROGUE_FERN in check.sign_set:
        sisters = trays_under_suspicion(tray=tray).count()
        words.append(f"Rogue fern: its origin and {sisters} sister trays are flagged.")
    if tray.look_due_on is not None and tray.is_active:
        words.append(f"Next look by {day_words(tray.look_due_on)}.")
    return " ".join(words)
