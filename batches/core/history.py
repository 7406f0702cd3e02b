"""What do a tray's looks prove: which stage it is in, and between which two looks it got there?

Looks are put in order by when they happened, so any order of arrival gives the same answer.
A glance satisfies the look that was due and proves nothing. A look on which no stage was noted
says “nothing new”: the sign of the next stage was not there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.signs import Sign
from batches.core.stages import (
    DONE_STAGES,
    ROUTES,
    Route,
    Stage,
    is_ahead,
    on_route,
    stages_between,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One standing look at a tray, on the nursery's own day."""

    on: date
    stage_seen: Stage | None = None
    glance: bool = False
    signs: frozenset[Sign] = frozenset()
    opened: bool = False
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Passage:
    """A tray went from one stage to the next, somewhere in (``not_before``, ``seen_on``].

    ``not_before`` is None when nobody had looked before: then the stage before it began the
    interval. ``look_id`` names the look that saw it, empty for what a deed proves.
    """

    from_stage: Stage
    to_stage: Stage
    not_before: date | None
    seen_on: date
    look_id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """Where a tray is in its life."""

    stage: Stage
    not_before: date | None
    seen_on: date

    @property
    def origin(self) -> date:
        """The day from which the stage's clock runs: the middle of the interval, rounded down."""
        if self.not_before is None:
            return self.seen_on
        return self.not_before + (self.seen_on - self.not_before) // 2

    @property
    def origin_half_day(self) -> float:
        """0.5 when the true middle lies half a day after `origin`, else 0."""
        if self.not_before is None:
            return 0.0
        return ((self.seen_on - self.not_before).days % 2) / 2


def passages(
    looks: Sequence[Look],
    *,
    route: Route,
    start_stage: Stage,
    started_on: date,
    known: Sequence[Passage] = (),
) -> tuple[Passage, ...]:
    """Return the passages that the looks prove beyond what is known already, oldest first.

    Parameters
    ----------
    looks : sequence of Look
        Standing looks, ascending by time. Glances and stages of another route prove nothing.
    started_on : date
        The tray began on this day in ``start_stage``; a first look without any before it leaves
        ``not_before`` at None.
    known : sequence of Passage
        Passages stated by somebody (and corrections, which go back), ascending; they hold
        whatever the looks say, and what they state is not proved a second time.

    Notes
    -----
    A stage seen that skips others proves them too: each gets the same interval. A look at an
    earlier stage than one already seen moves nothing back (going back is a correction).
    """
    stage = start_stage
    stated = {move.to_stage for move in known if is_ahead(route, move.to_stage, move.from_stage)}
    waiting = list(known)
    last_without: date | None = None
    proved: list[Passage] = []
    for look in looks:
        if look.glance or look.on < started_on:
            continue
        while waiting and waiting[0].seen_on <= look.on:
            stage = _further(route, stage, waiting.pop(0))
        seen = look.stage_seen
        if seen is not None and on_route(route, seen) and is_ahead(route, seen, stage):
            # A done stage happened on the day it is noted; a seen one between two looks.
            before = last_without
            for passed in stages_between(route, stage, seen):
                if passed not in stated:
                    proved.append(
                        Passage(
                            from_stage=stage,
                            to_stage=passed,
                            not_before=_day_before(look.on) if passed in DONE_STAGES else before,
                            seen_on=look.on,
                            look_id=look.id,
                        )
                    )
                stage = passed
        last_without = look.on
    return tuple(proved)


def _day_before(day: date) -> date:
    return day - timedelta(days=1)


def _further(route: Route, stage: Stage, move: Passage) -> Stage:
    """Return the stage after a known passage: forward ones never move back, corrections do."""
    goes_back = not is_ahead(route, move.to_stage, move.from_stage)
    if goes_back or is_ahead(route, move.to_stage, stage):
        return move.to_stage
    return stage


def standing(
    moves: Iterable[Passage], *, start_stage: Stage, started_on: date, route: Route
) -> Standing:
    """Return where a tray is after its passages, in order of when they were seen.

    A backward passage is a correction and counts like any other: the latest row says where the
    tray is.
    """
    ordered = sorted(
        moves, key=lambda move: (move.seen_on, _rank(route, move.from_stage, move.to_stage))
    )
    here = Standing(stage=start_stage, not_before=None, seen_on=started_on)
    for move in ordered:
        here = Standing(stage=move.to_stage, not_before=move.not_before, seen_on=move.seen_on)
    return here


def _rank(route: Route, from_stage: Stage, to_stage: Stage) -> tuple[int, int]:
    """Order passages seen on one day: forward ones along the route, corrections after them."""
    backward = on_route(route, from_stage) and not is_ahead(route, to_stage, from_stage)
    stages = ROUTES[route]
    place = stages.index(to_stage) if to_stage in stages else -1
    return (int(backward), place)


def effective(moves: Iterable[Passage], *, route: Route) -> tuple[Passage, ...]:
    """Return the passages that hold after corrections, in order along the route.

    A correction takes back the passages to the stages that lie ahead of where it leads.
    """
    ordered = sorted(
        moves, key=lambda move: (move.seen_on, _rank(route, move.from_stage, move.to_stage))
    )
    held: list[Passage] = []
    for move in ordered:
        if is_ahead(route, move.to_stage, move.from_stage):
            held = [one for one in held if one.to_stage is not move.to_stage]
            held.append(move)
        else:
            held = [one for one in held if not is_ahead(route, one.to_stage, move.to_stage)]
    return tuple(sorted(held, key=lambda move: ROUTES[route].index(move.to_stage)))
