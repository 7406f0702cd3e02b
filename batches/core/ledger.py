"""Do the plants of a tray balance: what came in, what is alive, lost, moved on, dispatched?

A row is one change of one tray's count in the tray's own unit. ``in`` adds, ``arrived`` is the
same for what came from another tray, ``recount`` is signed, all others take away.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from batches.core.errors import LedgerDoesNotBalance


class Change(StrEnum):
    """Kinds of change as the records name them."""

    IN = "in"
    LOSS = "loss"
    OUT = "out"
    DISPATCH = "dispatch"
    RECOUNT = "recount"


CHANGE_WORDS: dict[Change, str] = {
    Change.IN: "counted in",
    Change.LOSS: "lost",
    Change.OUT: "moved out",
    Change.DISPATCH: "dispatched",
    Change.RECOUNT: "recount difference",
}
#: units of a tray's count → a single one of them
SINGLE: dict[str, str] = {"patches": "patch", "plants": "plant", "pots": "pot"}


def in_unit(number: int, unit: str) -> str:
    """Return a count in words: “84 plants”, “1 pot”; an unknown unit stays as it is."""
    return f"{number} {SINGLE.get(unit, unit) if number == 1 else unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Posting:
    """One standing row seen from one tray; ``arrived_here`` marks the receiving side of an out.

    ``quantity`` is in the unit of the tray it is seen from; positive but for a recount.
    """

    on: date
    kind: Change
    quantity: int
    arrived_here: bool = False

    @property
    def effect(self) -> int:
        """What the row adds to the tray's count."""
        if self.arrived_here or self.kind in (Change.IN, Change.RECOUNT):
            return self.quantity
        return -self.quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Balance:
    """A tray's stock book summed up, in its own unit; ``counted`` is False before any count."""

    counted_in: int
    moved_in: int
    recount: int
    lost: int
    moved_out: int
    dispatched: int
    counted: bool

    @property
    def alive(self) -> int:
        """Plants alive now."""
        return (
            self.counted_in + self.moved_in + self.recount
            - self.lost - self.moved_out - self.dispatched
        )  # fmt: skip


def balance(postings: Iterable[Posting]) -> Balance:
    """Return the sums of a tray's standing rows.

    A tray is counted once something came in by number; an uncounted tray may give plants away
    (patches picked from a mat that nobody counted), so its outs are summed but hold no stock.
    """
    sums = dict.fromkeys(Change, 0)
    moved_in = 0
    counted = False
    for posting in postings:
        if posting.arrived_here:
            moved_in += posting.quantity
            counted = True
        else:
            sums[posting.kind] += posting.quantity
            counted = counted or posting.kind is Change.IN
    return Balance(
        counted_in=sums[Change.IN],
        moved_in=moved_in,
        recount=sums[Change.RECOUNT],
        lost=sums[Change.LOSS],
        moved_out=sums[Change.OUT],
        dispatched=sums[Change.DISPATCH],
        counted=counted,
    )


def require_balance(postings: Iterable[Posting], *, tray: str) -> Balance:
    """Return the balance, or raise when the count falls below nothing at the end of any day.

    Raises
    ------
    LedgerDoesNotBalance
        Names the tray, the day and the shortfall. Rows of one day are summed before they are
        judged, since the records know no order within a day. Days before the first count are not
        judged; what left in them still counts against what was counted in.
    """
    rows = sorted(postings, key=lambda posting: posting.on)
    total = balance(rows)
    if not total.counted:
        return total
    first_count = min(r.on for r in rows if r.arrived_here or r.kind is Change.IN)
    alive = 0
    for place, row in enumerate(rows):
        alive += row.effect
        last_of_day = place + 1 == len(rows) or rows[place + 1].on != row.on
        if row.on >= first_count and last_of_day and alive < 0:
            raise LedgerDoesNotBalance(
                f"Tray {tray} would hold {alive} on {row.on.isoformat()}: {-alive} more would have "
                "left than it held. Nothing was stored; count the tray again or lower the number."
            )
    return total
