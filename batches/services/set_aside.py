"""Which of what tablets counted, lost and saw contradicts, now that something else has arrived?

A tablet's loss of more than the stock book holds, its count above the book, and a stage behind one
that was seen before, wait outside the records for the manager. What arrives later may have
happened earlier: then all of it is judged anew in the order in which it happened, each by what
came before it, so that the order of arrival makes no difference. Plants that were picked into
other trays are there: losses and counts give way to them. The look itself stays as it was.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from typing import Any
from uuid import UUID

from django.db import transaction

from batches.core.errors import LedgerDoesNotBalance
from batches.core.signs import CAUSE_WORDS
from batches.core.stages import STAGE_WORDS, Route, Stage, is_ahead, on_route
from batches.models import PlantMovement, StageTransition, ToSettle, Tray, TrayCheck
from batches.services.days import local_day
from batches.services.evidence import gather
from batches.services.standing import refold
from batches.services.stock_book import (
    above_by,
    count_again,
    is_set_aside,
    lose_again,
    recount_of,
    require_balanced,
    settle_counts_from,
    standing_losses,
    take_out,
)
from batches.services.stock_row_ids import aside_id, count_ids

_ARRIVED = "fits since something else arrived"
#: what of a look may wait apart from it
_MATTERS = ("losses", "count", "stage")


def judge_again(*, tray: Tray, now: datetime, anew: bool = False) -> None:
    """Set aside what contradicts, and take back in what no longer does.

    Parameters
    ----------
    anew : bool
        Judge all of it, even if nothing waits and the book is sound.

    Raises
    ------
    LedgerDoesNotBalance
        When the book falls below nothing even without what tablets counted and lost.
    """
    looks = list(
        TrayCheck.objects.standing()
        .filter(tray=tray, glance=False)
        .select_related("device_ref", "tray__batch__taxon")
        .order_by("seen_at", "device", "device_seq", "id")
    )
    told = [look for look in looks if look.source == "tablet"]
    if anew or _contradicts(tray, told):
        fits = _what_fits(tray, told, now=now)
        _part(told, fits, now=now)
        require_balanced([tray])
        refold(trays=[tray], recorded_at=now)
    _judge_stages(tray, looks, now=now)


def let_wait(look: TrayCheck, losses: Sequence[tuple[int, str]], *, now: datetime) -> None:
    """Note that the losses and the count of a look stand beside the book, to be judged."""
    if losses:
        _let_losses_wait(look, losses, now=now)
    if look.count is not None and not look.about:
        _open("count", look, {"count": look.count}, _why_count_waits(look), now=now)


def make_room(*, tray: Tray, now: datetime) -> bool:
    """Set aside all that tablets lost and counted of a tray, until `judge_again`; no where none.

    Plants that were picked out of it are there; whether those were lost is a matter of opinion.
    """
    looks = TrayCheck.objects.standing().filter(tray=tray, source="tablet", glance=False)
    some = list(looks.select_related("device_ref", "tray").order_by("seen_at"))
    standing = [look for look in some if standing_losses(look.id) or _counts(look)]
    for look in standing:
        _set_losses_aside(look, now=now)
        if _counts(look):
            _set_count_aside(look, now=now)
    return bool(standing)


def is_waiting(look_id: UUID) -> bool:
    """Tell whether something of a look waits to be settled."""
    ids = [_matter_id(what, look_id) for what in _MATTERS]
    return ToSettle.objects.open().filter(pk__in=ids).exists()


def forget(look_id: UUID, *, now: datetime) -> None:
    """Close what waits of a look that was struck out."""
    for what in _MATTERS:
        _close(what, look_id, now=now)


def _counts(look: TrayCheck) -> bool:
    """Tell whether a look counted exactly, and its count does not wait outside."""
    return look.count is not None and not look.about and not is_set_aside(look.id)


def _contradicts(tray: Tray, told: Sequence[TrayCheck]) -> bool:
    """Tell whether anything waits, or the book and the counts do not agree."""
    ids = [_matter_id(what, look.id) for look in told for what in ("losses", "count")]
    if ToSettle.objects.open().filter(pk__in=ids).exists():
        return True
    above = PlantMovement.objects.standing().filter(tray=tray, kind="recount", quantity__gt=0)
    rows = set(above.values_list("id", flat=True))
    if rows and any(rows & set(count_ids(look.id)) for look in told):
        return True
    try:
        require_balanced([tray])
    except LedgerDoesNotBalance:
        return True
    return False


def _what_fits(tray: Tray, told: Sequence[TrayCheck], *, now: datetime) -> set[tuple[str, UUID]]:
    """Return the losses and counts that fit, each judged by what happened before it.

    All of it is tried out and taken back: nothing is stored here.
    """
    fits: set[tuple[str, UUID]] = set()
    with transaction.atomic():
        lost = {look.id: _lost_by(look) for look in told}
        counted = {look.id for look in told if _counts(look) or is_set_aside(look.id)}
        for look in told:
            take_out(standing_losses(look.id), by=look.by, now=now)
            row = recount_of(look.id)
            take_out([] if row is None else [row], by=look.by, now=now)
            if look.id in counted:
                _open("count", look, {"count": look.count}, "", now=now)
        for look in told:
            if lost[look.id] and _holds(tray, partial(_lose, look, lost[look.id], now)):
                fits.add(("losses", look.id))
            if look.id in counted and _holds(tray, partial(_count, look, now)):
                fits.add(("count", look.id))
        transaction.set_rollback(True)
    return fits


def _holds(tray: Tray, deed: Callable[[], None]) -> bool:
    """Tell whether the book is sound after a deed; what is not is taken back."""
    try:
        with transaction.atomic():
            deed()
            require_balanced([tray])
    except LedgerDoesNotBalance:
        return False
    return True


def _part(told: Sequence[TrayCheck], fits: set[tuple[str, UUID]], *, now: datetime) -> None:
    """Set aside what does not fit; take back in what does, in the order in which it happened."""
    for look in told:
        if ("losses", look.id) not in fits:
            _set_losses_aside(look, now=now)
        if ("count", look.id) not in fits and _counts(look):
            _set_count_aside(look, now=now)
    for look in told:
        if ("losses", look.id) in fits and not standing_losses(look.id):
            _lose(look, _lost_by(look), now=now)
        if ("count", look.id) in fits and is_set_aside(look.id):
            _count(look, now=now)
    for look in told:
        if _counts(look):
            settle_counts_from(look, by=look.by, now=now)
        elif is_set_aside(look.id):
            _open("count", look, {"count": look.count}, _why_count_waits(look), now=now)


def _lost_by(look: TrayCheck) -> list[tuple[int, str]]:
    """Return what a look lost: as it stands in the book, or as it waits; empty for nothing."""
    rows = standing_losses(look.id)
    if rows:
        return [(row.quantity, row.cause) for row in rows]
    waits = ToSettle.objects.open().filter(pk=_matter_id("losses", look.id)).first()
    said = [] if waits is None else waits.item["losses"]
    return [(loss["quantity"], loss["cause"]) for loss in said]


def _lose(look: TrayCheck, losses: Sequence[tuple[int, str]], now: datetime) -> None:
    if not lose_again(look, losses, now=now):
        raise LedgerDoesNotBalance("These losses were set aside too often to be taken back in.")
    _close("losses", look.id, now=now)
    settle_counts_from(look, by=look.by, now=now)


def _count(look: TrayCheck, now: datetime) -> None:
    if above_by(look) > 0:
        raise LedgerDoesNotBalance(_why_count_waits(look))
    _close("count", look.id, now=now)
    count_again(look, by=look.by, now=now)
    settle_counts_from(look, by=look.by, now=now)


def _let_losses_wait(look: TrayCheck, losses: Sequence[tuple[int, str]], *, now: datetime) -> None:
    lost = [{"quantity": quantity, "cause": cause} for quantity, cause in losses]
    words = " and ".join(f"{many} ({CAUSE_WORDS.get(cause, cause)})" for many, cause in losses)
    reason = (
        f"{words} were lost of tray {look.tray.code}, more than its stock book holds. The look is "
        "stored, its losses were set aside."
    )
    _open("losses", look, {"losses": lost}, reason, now=now)


def _set_losses_aside(look: TrayCheck, *, now: datetime) -> None:
    rows = standing_losses(look.id)
    if not rows:
        return
    take_out(rows, by=look.by, now=now)
    _let_losses_wait(look, [(row.quantity, row.cause) for row in rows], now=now)
    settle_counts_from(look, by=look.by, now=now)


def _set_count_aside(look: TrayCheck, *, now: datetime) -> None:
    row = recount_of(look.id)
    take_out([] if row is None else [row], by=look.by, now=now)
    _open("count", look, {"count": look.count}, _why_count_waits(look), now=now)
    settle_counts_from(look, by=look.by, now=now)


def _why_count_waits(look: TrayCheck) -> str:
    above = above_by(look)
    why = f"{above} more than its stock book holds" if above > 0 else "more left it afterwards"
    return (
        f"{look.count} were counted in tray {look.tray.code}, {why}. The look is stored, its count "
        "was set aside."
    )


def _judge_stages(tray: Tray, looks: list[TrayCheck], *, now: datetime) -> None:
    if not any(look.stage_seen for look in looks):
        return
    # Where somebody stated a stage, or went back, people have judged it already.
    if StageTransition.objects.standing().filter(tray=tray, derived=False).exists():
        return
    route, best = tray.route, Stage(tray.start_stage)
    pickings = sorted(gather([tray.pk])[tray.pk].pickings)
    for look in looks:
        if not look.stage_seen or not on_route(route, Stage(look.stage_seen)):
            continue
        # What was picked on a day comes after that day's looks (services.proved_passages).
        while pickings and pickings[0][0] < local_day(look.seen_at):
            best = _further(route, best, Stage(pickings.pop(0)[1]))
        seen = Stage(look.stage_seen)
        behind = is_ahead(route, best, seen)
        if behind and look.source == "tablet":
            reason = (
                f"Tray {tray.code} was past that: it was at “{STAGE_WORDS[best]}”, and "
                f"“{STAGE_WORDS[seen]}” comes before. The look is stored and moves nothing back."
            )
            _open("stage", look, {"stage_seen": look.stage_seen}, reason, now=now)
        elif not behind:
            best = seen
            if look.source == "tablet":
                _close("stage", look.id, now=now)


def _further(route: Route, here: Stage, proved: Stage) -> Stage:
    known = on_route(route, proved) and is_ahead(route, proved, here)
    return proved if known else here


def _matter_id(what: str, look_id: UUID) -> UUID:
    return aside_id(look_id) if what == "count" else uuid.uuid5(aside_id(look_id), what)


def _open(what: str, look: TrayCheck, part: dict[str, Any], reason: str, *, now: datetime) -> None:
    """Let it wait, again where it had been closed by itself; what a person settled stays so."""
    said = look.seen_at_device or look.seen_at
    found, made = ToSettle.objects.get_or_create(
        pk=_matter_id(what, look.id),
        defaults={
            "item": {
                "id": str(look.id), "kind": "check", "tray": look.tray.code, "by": look.by,
                "occurred_at": said.isoformat(), "by_verified": look.by_verified, "note": look.note,
            } | part,
            "reason": reason,
            "tray": look.tray,
            "by": look.by,
            "at": look.seen_at,
            "device": look.device_ref,
            "recorded_at": now,
        },
    )  # fmt: skip
    if not made and found.settled_by == "":
        ToSettle.objects.filter(pk=found.pk).update(settled_at=None, settled_how="", reason=reason)


def _close(what: str, look_id: UUID, *, now: datetime) -> None:
    rows = ToSettle.objects.open().filter(pk=_matter_id(what, look_id))
    rows.update(settled_at=now, settled_how=_ARRIVED)
