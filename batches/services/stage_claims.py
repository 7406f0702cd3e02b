"""May this look state that stage, and is it a step back?"""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from uuid import UUID

from batches.core.errors import NotPossibleNow
from batches.core.stages import (
    DONE_STAGES,
    ROUTE_WORDS,
    STAGE_WORDS,
    Stage,
    is_ahead,
    on_route,
    stages_between,
)
from batches.models import Parentage, StageTransition, Tray, TrayCheck
from batches.services.days import local_day
from batches.services.evidence import gather
from batches.services.standing import folds
from batches.services.stock_book import rank_of


def stage_at(tray: Tray, moment: datetime, *, before: TrayCheck | None = None) -> Stage:
    """Return the stage the tray was in at a moment, as far as the records prove.

    Of looks of that very instant, those that rank behind ``before`` come after it.
    """
    day = local_day(moment)
    if tray.stage_seen_on < day:
        return Stage(tray.stage)
    eve = day - timedelta(days=1)
    here = Stage(str(folds(gather([tray.pk], until=eve))[tray.pk].columns["stage"]))
    for look in TrayCheck.objects.standing().filter(
        tray=tray, glance=False, seen_at__lte=moment, stage_seen__gt=""
    ):
        if before is not None and look.seen_at == moment and rank_of(look) > rank_of(before):
            continue
        seen = Stage(look.stage_seen)
        of_the_day = local_day(look.seen_at) == day
        if of_the_day and on_route(tray.route, seen) and is_ahead(tray.route, seen, here):
            here = seen
    stated = StageTransition.objects.standing().filter(tray=tray, seen_on=day, derived=False)
    for row in stated.order_by("recorded_at"):
        here = Stage(row.to_stage)
    return here


def stage_gone_back_from(
    check: TrayCheck, *, correction: bool, as_seen: bool = False
) -> Stage | None:
    """Return the stage a correction goes back from; None when the look goes forward or stays.

    With ``as_seen`` a stage that lies behind is let through; it proves nothing.

    Raises
    ------
    NotPossibleNow
        When the stage is none of the tray's route, lies behind and ``correction`` is False, or is
        one that its children reached instead of it.
    """
    if not check.stage_seen:
        return None
    tray, seen = check.tray, Stage(check.stage_seen)
    if not on_route(tray.route, seen):
        raise NotPossibleNow(
            f"Tray {tray.code} is raised from {ROUTE_WORDS[tray.route]}: “{STAGE_WORDS[seen]}” is "
            "none of its stages. Nothing was stored.",
            field="stage_seen",
        )
    here = stage_at(tray, check.seen_at, before=check)
    if is_ahead(tray.route, here, seen):
        if correction:
            return here
        if as_seen:
            return None
        raise NotPossibleNow(
            f"Tray {tray.code} is past that: it is at “{STAGE_WORDS[here]}”, and "
            f"“{STAGE_WORDS[seen]}” comes before. Nothing was stored; look at the label again, or "
            "enter it as a correction.",
            field="stage_seen",
        )
    done = [stage for stage in stages_between(tray.route, here, seen) if stage in DONE_STAGES]
    if done and Parentage.objects.filter(parent=tray).exists():
        raise NotPossibleNow(
            f"Plants were moved on from tray {tray.code}: what is “{STAGE_WORDS[seen]}” stands in "
            "other trays now, and this one keeps its own stage. Nothing was stored; log it at the "
            "tray that holds them, or enter a picking.",
            field="stage_seen",
        )
    return None


def correction_id(check_id: UUID) -> UUID:
    """Return the id of the passage backward that a look states."""
    return uuid.uuid5(check_id, "correction")


def state_correction(check: TrayCheck, backward_from: Stage) -> None:
    """Store the passage backward that a look states."""
    StageTransition.objects.create(
        id=correction_id(check.id),
        tray=check.tray,
        from_stage=backward_from,
        to_stage=check.stage_seen,
        seen_on=local_day(check.seen_at),
        by=check.by,
        recorded_at=check.recorded_at,
    )
