"""Which of what tablets counted and saw contradicts, now that something else has arrived?

A tablet's count above the stock book, and a stage behind one that was seen before, wait outside
the records for the manager. What arrives later may have happened earlier: then what contradicts is
judged anew, so that the order of arrival makes no difference. The look itself stays as it was.
"""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any
from uuid import UUID

from batches.core.stages import STAGE_WORDS, Route, Stage, is_ahead, on_route
from batches.models import StageTransition, ToSettle, Tray, TrayCheck
from batches.services.days import local_day
from batches.services.evidence import gather
from batches.services.standing import refold
from batches.services.stock_book import (
    Moment,
    above_by,
    aside_id,
    count_again,
    is_set_aside,
    recount_of,
    settle_counts_after,
    strike_aside_id,
)
from batches.services.strikes import strike_out

_ARRIVED = "fits since something else arrived"


def judge_again(*, tray: Tray, since: datetime, now: datetime) -> None:
    """Set aside what contradicts from a moment on, and take back in what no longer does."""
    looks = list(
        TrayCheck.objects.standing()
        .filter(tray=tray, glance=False)
        .select_related("device_ref", "tray__batch__taxon")
        .order_by("seen_at", "device", "device_seq", "id")
    )
    for look in looks:
        counted = look.count is not None and not look.about
        if counted and look.source == "tablet" and look.seen_at >= since:
            _judge_count(look, now=now)
    _judge_stages(tray, looks, now=now)


def is_waiting(look_id: UUID) -> bool:
    """Tell whether something of a look waits to be settled."""
    ids = [_matter_id("count", look_id), _matter_id("stage", look_id)]
    return ToSettle.objects.open().filter(pk__in=ids).exists()


def forget(look_id: UUID, *, now: datetime) -> None:
    """Close what waits of a look that was struck out."""
    for what in ("count", "stage"):
        _close(what, look_id, now=now)


def _judge_count(look: TrayCheck, *, now: datetime) -> None:
    row = recount_of(look.id)
    above = row.quantity if row is not None and row.kind == "recount" else 0
    if row is None:
        above = above_by(look)
    if above > 0:
        if row is not None:
            strike_out(row=row, by=look.by, now=now, record_id=strike_aside_id(row.id))
        reason = (
            f"{look.count} were counted in tray {look.tray.code}, {above} more than its stock book "
            "holds. The look is stored, its count was set aside."
        )
        _open("count", look, {"count": look.count}, reason, now=now)
    elif row is None and is_set_aside(look.id):
        _close("count", look.id, now=now)
        count_again(look, by=look.by, now=now)
        moment = Moment(on=local_day(look.seen_at), recorded_at=now, seen_at=look.seen_at)
        settle_counts_after(look.tray, moment, by=look.by, now=now)
        refold(trays=[look.tray], recorded_at=now)


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
