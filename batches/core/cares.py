"""Which care is due with a tray: wean it in steps, feed it, give it slow-release feed?

Each is a reminder that the nursery turns on for a route; all numbers are common practice, no
source, and a product's label comes before them. Nothing is ever fed before the first frond.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from batches.core.rest import RestWeeks, in_weeks
from batches.core.stages import STAGE_FACTS, Route, Stage


class Care(StrEnum):
    """A care as the records of the nursery name it."""

    WEAN = "wean"
    FEED = "feed"
    SLOW_RELEASE = "slow_release"


CARE_WORDS: dict[Care, str] = {
    Care.WEAN: "wean in steps after pricking out",
    Care.FEED: "feed at half strength from the first frond on",
    Care.SLOW_RELEASE: "slow-release feed after potting up",
}
#: days after pricking out → the step of weaning
WEANING: tuple[tuple[int, str], ...] = (
    (4, "open the vents for an hour a day"),
    (8, "leave the lid ajar for half the day"),
    (11, "open by day, closed at night"),
    (14, "take the lid off"),
)
FEED_EVERY = 21
SLOW_RELEASE_AFTER = 14
#: stages in which any care may fall due
CARED_STAGES = frozenset(
    stage
    for stage in Stage
    if STAGE_FACTS[stage].fed or stage in (Stage.PRICKED_OUT, Stage.POTTED_UP)
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CaredFor:
    """What the reckoning needs of one tray; ``done`` holds the days each care was given."""

    route: Route
    stage: Stage
    stage_since: date
    cover: str
    rest: RestWeeks
    done: dict[Care, tuple[date, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class CareDue:
    """One care that is due, since when, against how many days, in words."""

    care: Care
    due_on: date
    should_take: int
    reason: str


def cares_due(tray: CaredFor, *, on: date, wanted: frozenset[Care]) -> tuple[CareDue, ...]:
    """Return the cares that are due on a day among those the nursery wants to be reminded of.

    A fern in its rest weeks is neither fed nor weaned.
    """
    if in_weeks(on, tray.rest):
        return ()
    rules = {Care.WEAN: _wean, Care.FEED: _feed, Care.SLOW_RELEASE: _slow_release}
    found = (rules[care](tray) for care in Care if care in wanted)
    return tuple(due for due in found if due is not None and due.due_on <= on)


def most_pressing(found: Sequence[CareDue], *, on: date) -> CareDue | None:
    """Return the care to give first; None where none is due. The next comes once it is given."""
    return max(found, key=lambda due: (on - due.due_on).days / due.should_take, default=None)


def _wean(tray: CaredFor) -> CareDue | None:
    if tray.stage is not Stage.PRICKED_OUT or tray.cover in ("", "off"):
        return None
    taken = sum(day >= tray.stage_since for day in tray.done.get(Care.WEAN, ()))
    if taken >= len(WEANING):
        return None
    day, step = WEANING[taken]
    return CareDue(
        care=Care.WEAN,
        due_on=tray.stage_since + timedelta(days=day),
        should_take=day,
        reason=f"Weaning, step {taken + 1} of {len(WEANING)}: {step}. "
        "Go back a step when they wilt.",
    )


def _feed(tray: CaredFor) -> CareDue | None:
    if not STAGE_FACTS[tray.stage].fed:
        return None
    fed = [day for day in tray.done.get(Care.FEED, ()) if day >= tray.stage_since]
    last = max(fed, default=None)
    since = f"Last fed on {last.day} {last:%b %Y}" if last else "Not fed in this stage yet"
    return CareDue(
        care=Care.FEED,
        due_on=(last or tray.stage_since) + timedelta(days=FEED_EVERY),
        should_take=FEED_EVERY,
        reason=f"{since}: half-strength feed every {FEED_EVERY} days; the product's label decides.",
    )


def _slow_release(tray: CaredFor) -> CareDue | None:
    given = any(day >= tray.stage_since for day in tray.done.get(Care.SLOW_RELEASE, ()))
    if tray.stage is not Stage.POTTED_UP or given:
        return None
    return CareDue(
        care=Care.SLOW_RELEASE,
        due_on=tray.stage_since + timedelta(days=SLOW_RELEASE_AFTER),
        should_take=SLOW_RELEASE_AFTER,
        reason="Slow-release feed once after potting up; the product's label decides.",
    )
