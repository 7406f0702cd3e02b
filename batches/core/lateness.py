"""What is due with a tray, since when, how late is that, and why?

Dates are worked out once when something is recorded and stored; “days late” never is. A tray is
late in its stage only when its last close look *without* the sign was already past the late day;
before that, a look is due.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.rest import RestWeeks, clock_date, clock_days, in_weeks
from batches.core.signs import PRESSING_SIGNS, Sign
from batches.core.stages import (
    COVERED_STAGES,
    LOOK_REST,
    NO_GERMINATION_DAYS,
    RESTING_STAGES,
    STAGE_FACTS,
    FernKind,
    Stage,
    look_every,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """How long this fern takes from a stage to the next here.

    ``expected_days`` is the median and ``late_days`` the 90 % of those that move on, in days on
    the stage's clock; ``basis`` says in words on what they rest; ``trays`` how many trays of this
    fern they rest on (0: the default window).
    """

    expected_days: float
    late_days: float
    basis: str
    trays: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayFacts:
    """What the reckoning of due dates needs to know of one tray."""

    stage: Stage
    next_stage: Stage | None
    kind: FernKind
    rest: RestWeeks
    started_on: date
    origin: date
    origin_half_day: float = 0.0
    last_look_on: date | None = None
    last_close_look_on: date | None = None
    signs: frozenset[Sign] = frozenset()
    picked: bool = False
    control: bool = False
    ended: bool = False
    come_back_on: date | None = None
    own_look_every: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DueDates:
    """The stored dates of one tray; None where nothing of the kind is to come."""

    look_due_on: date | None
    look_every: int
    expected_on: date | None
    late_on: date | None
    decide_on: date | None
    due_on: date | None


def stage_rest(stage: Stage, rest: RestWeeks) -> RestWeeks:
    """Return the rest that stops this stage's clock; None in the stages before pricked out."""
    return rest if stage in RESTING_STAGES else None


def due_dates(facts: TrayFacts, outlook: Outlook | None) -> DueDates:
    """Return the dates to store for a tray.

    Parameters
    ----------
    outlook : Outlook or None
        None when the stage has no next one.

    Notes
    -----
    Once a look is past the late day, only a close look satisfies: from then on the look due is
    counted from the last close look, but never asked for before the late day itself.
    """
    every = _every(facts, on=facts.last_look_on or facts.started_on)
    if facts.ended:
        return DueDates(
            look_due_on=None, look_every=every, expected_on=None, late_on=None, decide_on=None,
            due_on=None,
        )  # fmt: skip
    rest = stage_rest(facts.stage, facts.rest)
    expected_on = late_on = None
    if outlook is not None and not facts.picked and not facts.control:
        expected_on = clock_date(facts.origin, outlook.expected_days + facts.origin_half_day, rest)
        late_on = clock_date(facts.origin, outlook.late_days + facts.origin_half_day, rest)
    decide_on = None
    if facts.stage is Stage.SOWN and not facts.control:
        decide_on = facts.started_on + timedelta(days=NO_GERMINATION_DAYS[facts.kind])
    look_on = _next_look(facts, last=facts.last_look_on)
    if late_on is not None and facts.last_look_on != facts.last_close_look_on:
        close_on = _next_look(facts, last=facts.last_close_look_on)
        look_on = min(look_on, max(close_on, late_on))
    lines = [look_on, decide_on, facts.come_back_on]
    if late_on is not None and _seen_since(late_on, facts.last_close_look_on):
        lines.append(late_on)
    return DueDates(
        look_due_on=look_on,
        look_every=every,
        expected_on=expected_on,
        late_on=late_on,
        decide_on=decide_on,
        due_on=min(day for day in lines if day is not None),
    )


def _every(facts: TrayFacts, *, on: date) -> int:
    if facts.own_look_every is not None and not facts.signs & PRESSING_SIGNS:
        return facts.own_look_every
    return look_every(
        stage=facts.stage,
        kind=facts.kind,
        days_since_start=(on - facts.started_on).days,
        signs=facts.signs,
        resting=False,
    )


def _next_look(facts: TrayFacts, *, last: date | None) -> date:
    """Return the first day on which a look is due; inside a rest only after the longer interval."""
    since = facts.started_on if last is None else last
    every = _every(facts, on=since)
    day = since + timedelta(days=every)
    rest = stage_rest(facts.stage, facts.rest)
    if rest is None or facts.signs & PRESSING_SIGNS:
        return day
    latest = since + timedelta(days=max(every, LOOK_REST))
    while day < latest and in_weeks(day, rest):
        day += timedelta(days=1)
    return day


def _seen_since(late_on: date, last_close_look_on: date | None) -> bool:
    return last_close_look_on is not None and last_close_look_on >= late_on


@dataclass(frozen=True, slots=True, kw_only=True)
class DueFacts:
    """What decides which lines a tray has on a day: its stored dates and little else.

    ``late_days`` is the late day of its stage, in days on the stage's clock; None when unknown.
    """

    stage: Stage
    kind: FernKind
    rest: RestWeeks
    look_due_on: date | None
    look_every: int
    late_on: date | None
    last_close_look_on: date | None
    decide_on: date | None
    come_back_on: date | None
    last_picked_on: date | None
    late_days: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """Something due; ``should_take`` is how many days it should have taken."""

    kind: str
    due_on: date
    should_take: float


def dues(facts: DueFacts, *, on: date) -> tuple[Due, ...]:
    """Return what is due with a standing tray on a day: look, stage, decision, picking."""
    found = []
    if facts.look_due_on is not None and facts.look_due_on <= on:
        found.append(Due(kind="look", due_on=facts.look_due_on, should_take=facts.look_every))
    late = is_stage_late(
        stage=facts.stage,
        rest=facts.rest,
        late_on=facts.late_on,
        last_close_look_on=facts.last_close_look_on,
        on=on,
    )
    if late and facts.late_on is not None and facts.late_days is not None:
        found.append(Due(kind="stage", due_on=facts.late_on, should_take=facts.late_days))
    if facts.decide_on is not None and facts.decide_on <= on:
        limit = NO_GERMINATION_DAYS[facts.kind]
        found.append(Due(kind="decision", due_on=facts.decide_on, should_take=limit))
    if facts.come_back_on is not None and facts.come_back_on <= on:
        last = facts.last_picked_on
        span = facts.look_every if last is None else (facts.come_back_on - last).days
        found.append(Due(kind="picking", due_on=facts.come_back_on, should_take=span))
    return tuple(found)


def lateness_of(due: Due, *, on: date) -> float:
    """Return the days it is late against the days it should have taken; 0 on the day itself."""
    return (on - due.due_on).days / max(due.should_take, 1.0)


def is_stage_late(
    *,
    stage: Stage,
    rest: RestWeeks,
    late_on: date | None,
    last_close_look_on: date | None,
    on: date,
) -> bool:
    """Tell whether a standing tray is late in its stage: seen without the sign past its late day.

    Never before somebody looked closely on or after the late day, and never while the fern rests
    (`TrayQuerySet.late_in_stage` is the same in SQL).
    """
    if late_on is None or on < late_on or in_weeks(on, stage_rest(stage, rest)):
        return False
    return _seen_since(late_on, last_close_look_on)


def look_reason(facts: TrayFacts, dates: DueDates, *, on: date) -> str:
    """Say why a look is due, in one sentence."""
    if facts.last_look_on is None:
        seen = f"Not looked at since it was started {_ago(facts.started_on, on)}"
    else:
        seen = f"Last looked at {_ago(facts.last_look_on, on)}"
    pressing = sorted(facts.signs & PRESSING_SIGNS)
    if pressing:
        words = " and ".join("mould" if sign is Sign.MOULD else "dry" for sign in pressing)
        return f"{seen} with {words}: look every {dates.look_every} days until that is gone."
    past_late = dates.late_on is not None and on >= dates.late_on
    only_glance = facts.last_close_look_on != facts.last_look_on
    if past_late and only_glance and facts.next_stage is not None:
        return (
            f"{seen} only at a glance; it is past its late day for "
            f"{_sign(facts.next_stage)}, so a close look is due."
        )
    return f"{seen}; {_kept(facts)} is looked at every {dates.look_every} days."


def stage_reason(facts: TrayFacts, outlook: Outlook, *, on: date) -> str:
    """Say why a tray is late in its stage, with the numbers."""
    rest = stage_rest(facts.stage, facts.rest)
    days = clock_days(facts.origin, on, rest)
    awake = "" if rest is None else " (rest weeks not counted)"
    late = round(outlook.late_days)
    if outlook.trays:
        known = f"nine in ten of {outlook.trays} trays of this fern took {late} at most"
    else:
        known = f"nine in ten should take {late} at most ({outlook.basis})"
    not_yet = "" if facts.next_stage is None else f", {STAGE_FACTS[facts.next_stage].not_yet}"
    return f"{days} days{awake} since {STAGE_FACTS[facts.stage].beginning}{not_yet}; {known}."


def decision_reason(facts: TrayFacts, *, on: date) -> str:
    """Say why it is time to re-sow, wait or discard."""
    days = (on - facts.started_on).days
    limit = NO_GERMINATION_DAYS[facts.kind]
    return f"No green {days} days after sowing (decide at {limit}): re-sow, wait or discard."


def picking_reason(come_back_on: date, *, last_picked_on: date | None) -> str:
    """Say why one comes back to a mat."""
    picked = (
        ""
        if last_picked_on is None
        else f" Last picked {last_picked_on.day} {last_picked_on:%b %Y}."
    )
    return f"More to come: come back on {come_back_on.day} {come_back_on:%b %Y}.{picked}"


def _kept(facts: TrayFacts) -> str:
    if facts.control:
        return "a control tray"
    if facts.stage in COVERED_STAGES:
        return "a covered tray"
    if facts.stage in (Stage.POTTED_UP, Stage.READY):
        return "a carrier of pots"
    return "a cell tray" if facts.stage is Stage.PRICKED_OUT else "an open tray"


def _ago(day: date, on: date) -> str:
    days = (on - day).days
    if days <= 0:
        return "today"
    return "yesterday" if days == 1 else f"{days} days ago"


def _sign(stage: Stage | None) -> str:
    """Return the sign of a stage as it stands in a sentence: “green”, “a first frond”."""
    return "a next stage" if stage is None else STAGE_FACTS[stage].sign
