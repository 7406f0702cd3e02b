"""What has a spore lot to wait for, and when is its time up?

Days are counted from the day of collection or of laying out to dry.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

#: days of drying before a lot is cleaned: common practice, no source (4 to 5; green the next day)
DRYING_DAYS = {"not_green": 4, "green": 1}
#: green spores: warned at 3 days, sow-by 14; common practice, no source (they fall from the first)
GREEN_WARN_DAYS = 3
GREEN_SOW_BY_DAYS = 14
#: mean viability of non-green spores: Lloyd & Klekowski 1970, Biotropica 2:129-137, from memory
VIABLE_DAYS = 1_045
#: days until a germination test is counted: common practice, no source
TEST_DAYS = {"not_green": 21, "green": 7}


@dataclass(frozen=True, slots=True, kw_only=True)
class LotFacts:
    """What the reckoning needs to know of one lot; ``sown`` once any batch was started from it."""

    spore_kind: str
    collected_on: date
    drying_since: date | None
    cleaned_on: date | None
    sown: bool
    ended: bool = False
    sow_by_days: int | None = None
    test_sown_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LotDue:
    """One thing due with a lot; ``should_take`` is the span in days it is held against."""

    due_on: date
    should_take: int
    reason: str


def sow_by(*, spore_kind: str, collected_on: date, own_days: int | None = None) -> date:
    """Return the day by which to sow: after the fern's own span, else that of its spores' kind."""
    if own_days is None:
        own_days = GREEN_SOW_BY_DAYS if spore_kind == "green" else VIABLE_DAYS
    return collected_on + timedelta(days=own_days)


def due_with_lot(facts: LotFacts, *, on: date) -> tuple[LotDue, ...]:
    """Return what is due with the lot on a day, each with its reason; empty when it may rest."""
    if facts.ended:
        return ()
    found = []
    if facts.drying_since is not None and facts.cleaned_on is None:
        days = DRYING_DAYS[facts.spore_kind]
        dry_on = facts.drying_since + timedelta(days=days)
        found.append(
            LotDue(
                due_on=dry_on,
                should_take=days,
                reason=f"Drying for {(on - facts.drying_since).days} days; "
                f"{'green spores' if facts.spore_kind == 'green' else 'spores'} are dry enough to "
                f"clean after {days}.",
            )
        )
    if not facts.sown:
        found.append(_sow_by_line(facts, on=on))
    if facts.test_sown_on is not None:
        days = TEST_DAYS[facts.spore_kind]
        found.append(
            LotDue(
                due_on=facts.test_sown_on + timedelta(days=days),
                should_take=days,
                reason=f"A germination test sown {(on - facts.test_sown_on).days} days ago is to "
                f"be counted after {days}.",
            )
        )
    return tuple(line for line in found if line.due_on <= on)


def _sow_by_line(facts: LotFacts, *, on: date) -> LotDue:
    last = sow_by(
        spore_kind=facts.spore_kind, collected_on=facts.collected_on, own_days=facts.sow_by_days
    )
    span = (last - facts.collected_on).days
    age = (on - facts.collected_on).days
    if facts.spore_kind == "green":
        warn = facts.collected_on + timedelta(days=min(GREEN_WARN_DAYS, span))
        past = f"past its sow-by of {span} days" if on > last else f"sow by {last.day} {last:%b %Y}"
        return LotDue(
            due_on=warn,
            should_take=span,
            reason=f"Green spores, {age} days old: {past}. They fade from the first day.",
        )
    return LotDue(
        due_on=last,
        should_take=span,
        reason=f"{age} days old and not sown; spores of its kind keep about {span} days. "
        "Test it or sow thickly.",
    )
