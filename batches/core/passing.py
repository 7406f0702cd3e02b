"""How many plants of a counted tray entered a stage, and how many of them moved on?

Counted in the tray's own unit from its stock book, over stages that the tray has left. Plants that
went to trays in the *same* stage (patched out, potted on) are counted there, not here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from batches.core.history import Passage
from batches.core.ledger import Change
from batches.core.stages import Route, Stage, next_stage


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """A row of a tray's stock book; ``same_stage`` marks an out to a tray in the same stage."""

    on: date
    kind: Change
    quantity: int
    arrived_here: bool = False
    same_stage: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedTray:
    """A counted tray by a day: its entries, its own effective passages and how it ended.

    ``left_on`` is the day on which everything had left it; None while it stands.
    """

    route: Route
    start_stage: Stage
    passages: Sequence[Passage]
    entries: Sequence[Entry]
    left_on: date | None
    surplus: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Passed:
    """Plants that entered a stage of one tray and those that moved on from it."""

    from_stage: Stage
    to_stage: Stage
    plants_in: int
    plants_out: int


def passed(tray: CountedTray) -> tuple[Passed, ...]:
    """Return the stages that the tray has left, with their plants; empty for surplus trays.

    A stage that ended by a sign seen (first frond, ready) passes on what was alive that day and
    what had been sent on before; one that ended with the tray passes on what was moved on or
    dispatched. Recounts are no plants: they correct the count of what is alive.
    """
    if tray.surplus:
        return ()
    rows = []
    stage, alive = tray.start_stage, 0
    since: date | None = None
    for passage in tray.passages:
        span = [e for e in tray.entries if _within(e.on, since, passage.seen_on)]
        plants_in = alive + _came(span)
        alive += sum(_effect(entry) for entry in span)
        rows.append(
            Passed(
                from_stage=stage,
                to_stage=passage.to_stage,
                plants_in=plants_in,
                plants_out=alive + _went(span),
            )
        )
        stage, since = passage.to_stage, passage.seen_on
    ahead = next_stage(tray.route, stage)
    if ahead is not None and tray.left_on is not None:
        span = [e for e in tray.entries if since is None or e.on > since]
        rows.append(
            Passed(
                from_stage=stage,
                to_stage=ahead,
                plants_in=alive + _came(span),
                plants_out=_went(span),
            )
        )
    return tuple(row for row in rows if row.plants_in > 0)


def _within(day: date, since: date | None, until: date) -> bool:
    return (since is None or day > since) and day <= until


def _came(entries: Sequence[Entry]) -> int:
    """Plants that came in, less those handed on to trays in the same stage."""
    came = sum(e.quantity for e in entries if e.arrived_here or e.kind is Change.IN)
    return came - sum(e.quantity for e in entries if e.same_stage)


def _went(entries: Sequence[Entry]) -> int:
    """Plants that moved on or were dispatched."""
    return sum(
        entry.quantity
        for entry in entries
        if not entry.arrived_here
        and not entry.same_stage
        and entry.kind in (Change.OUT, Change.DISPATCH)
    )


def _effect(entry: Entry) -> int:
    if entry.arrived_here or entry.kind in (Change.IN, Change.RECOUNT):
        return entry.quantity
    return -entry.quantity
