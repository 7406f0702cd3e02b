"""How long was a tray in each of its stages, as far as its looks can say?

One row a stage that the tray was in: what `batches.core.durations` estimates from. The clock of a
stage starts in the middle of the interval in which it began; rest weeks do not count from pricked
out on. A glance is no evidence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from batches.core.history import Passage, Standing
from batches.core.intervals import Ending, StageInterval
from batches.core.lateness import stage_rest
from batches.core.rest import RestWeeks, clock_days
from batches.core.stages import DONE_STAGES, Route, Stage, next_stage


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayPast:
    """What is known of one tray by a day; ``passages`` are effective, along the route.

    ``start`` is where it began, with an inherited clock where it was filled from a tray in the
    same stage (`inherited`). ``handed_on`` says that everything in it went to trays that inherit
    its clock: then its last stage has no row of its own. ``picked_into`` are done stages that its
    plants went to in other trays: it left its stage at the first picking and never entered them.
    ``last_look_on`` is the last close look.
    """

    route: Route
    start: Standing
    passages: Sequence[Passage]
    last_look_on: date | None
    rest: RestWeeks
    ended_on: date | None = None
    end: str = ""
    end_cause: str = ""
    handed_on: bool = False
    picked_into: frozenset[Stage] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Sojourn:
    """A tray's time in one stage on the way to the next one."""

    stage: Stage
    next_stage: Stage
    interval: StageInterval


def sojourns(past: TrayPast, *, on: date) -> tuple[Sojourn, ...]:
    """Return the tray's stages with their intervals, as known at the end of a day.

    Stages without a next one (*ready*) have no row.
    """
    rows = []
    entry = past.start
    for passage in past.passages:
        rows.append(_moved_on(past, entry, passage))
        if passage.to_stage in past.picked_into:
            return tuple(rows)
        entry = Standing(
            stage=passage.to_stage, not_before=passage.not_before, seen_on=passage.seen_on
        )
    last = _still_there(past, entry, on=on)
    if last is not None:
        rows.append(last)
    return tuple(rows)


def _age(past: TrayPast, entry: Standing, day: date) -> float:
    """Return the age in the stage on a day; below 0 before its clock started."""
    rest = stage_rest(entry.stage, past.rest)
    if day < entry.origin:
        return float((day - entry.origin).days) - entry.origin_half_day
    return clock_days(entry.origin, day, rest) - entry.origin_half_day


def _moved_on(past: TrayPast, entry: Standing, passage: Passage) -> Sojourn:
    right = _age(past, entry, passage.seen_on)
    if (passage.not_before, passage.seen_on) == (entry.not_before, entry.seen_on) and (
        passage.to_stage not in DONE_STAGES
    ):
        # Skipped: seen to be over at the very look that saw its beginning.
        since = passage.not_before or past.start.seen_on
        left, right = 0.0, float(clock_days(since, passage.seen_on, None))
    elif passage.to_stage in DONE_STAGES:
        left = right - 1.0
    else:
        left = 0.0 if passage.not_before is None else _age(past, entry, passage.not_before)
    right = max(right, 0.0)
    interval = StageInterval(left=min(max(left, 0.0), right), right=right, ending="seen")
    return Sojourn(stage=entry.stage, next_stage=passage.to_stage, interval=interval)


def _still_there(past: TrayPast, entry: Standing, *, on: date) -> Sojourn | None:
    ahead = next_stage(past.route, entry.stage)
    if ahead is None or past.handed_on:
        return None
    ended = past.ended_on is not None and past.ended_on <= on
    looked = past.last_look_on or past.start.seen_on
    if ended and past.ended_on is not None:
        age = _age(past, entry, past.ended_on)
        if past.end == "dispatched" and ahead is Stage.READY:
            left = min(_age(past, entry, looked), age)
            seen = StageInterval(left=max(left, 0.0), right=max(age, 0.0), ending="seen")
            return Sojourn(stage=entry.stage, next_stage=ahead, interval=seen)
        interval = StageInterval(left=age, ending=_ending(past))
        return Sojourn(stage=entry.stage, next_stage=ahead, interval=interval)
    until = on if ahead in DONE_STAGES else looked
    interval = StageInterval(left=_age(past, entry, until), ending="waiting")
    return Sojourn(stage=entry.stage, next_stage=ahead, interval=interval)


def _ending(past: TrayPast) -> Ending:
    if past.end != "discarded" or past.end_cause == "surplus":
        return "waiting"
    return "no_germination" if past.end_cause == "no_germination" else "lost"
