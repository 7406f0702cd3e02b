"""What does one tray's record say about how long it took to pass a stage?

A sign is only seen at a look, so a stage's duration is known no closer than "after the last look
without the sign, by the first look with it": the half-open interval (left, right]. A tray still
waiting, or lost, says only "longer than left". A sowing given up for *no germination* says that it
belongs to the trays that never move on. Every estimator of stage times reads these rows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from batches.core.errors import NurseryError

Floats = NDArray[np.float64]
Ending = Literal["seen", "waiting", "lost", "no_germination"]

ENDINGS: tuple[Ending, ...] = get_args(Ending)
#: days: no stage ends before half a day, and an interval without width becomes one day wide
SHORTEST = 0.5
NARROWEST = 1.0


class NotEstimable(NurseryError):
    """The rows do not hold what the question needs; the text says what is missing."""


class NotAnInterval(NurseryError):
    """A row that cannot be: right before left, a negative weight, an unknown ending."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StageInterval:
    """One tray's time in one stage, in days on the stage's clock.

    Parameters
    ----------
    left : float
        Age in the stage at the last look without the next sign, or at which the tray was lost;
        below 0 counts as 0.
    right : float
        Age at the first look with it; infinite unless `ending` is ``"seen"``. At least
        `SHORTEST`; where both ages are equal (two looks on one day, or within one rest) the
        interval reaches `NARROWEST` back, so that it always holds something.
    ending : {"seen", "waiting", "lost", "no_germination"}
        *lost* is censored like *waiting* where only the duration is asked; *no_germination*
        means that the tray would never have moved on.
    weight : float
        How many trays the row stands for; above 0.

    Raises
    ------
    NotAnInterval
        When right is before left, a number is missing, or the ending and right do not fit.
    """

    left: float
    right: float = math.inf
    ending: Ending
    weight: float = 1.0

    def __post_init__(self) -> None:
        self._refuse_what_cannot_be()
        left, right = max(0.0, float(self.left)), float(self.right)
        if self.ending == "seen":
            right = max(right, SHORTEST)
            if left >= right:
                left = max(0.0, right - NARROWEST)
        object.__setattr__(self, "left", left)
        object.__setattr__(self, "right", right)

    def _refuse_what_cannot_be(self) -> None:
        if self.ending not in ENDINGS:
            known = ", ".join(ENDINGS)
            raise NotAnInterval(f"“{self.ending}” is no ending of a stage; one of: {known}.")
        if not math.isfinite(self.left):
            raise NotAnInterval("The age at the last look without the sign is not a number.")
        if math.isfinite(self.right) != (self.ending == "seen"):
            raise NotAnInterval("A stage has a last day exactly when its next sign was seen.")
        if self.ending == "seen" and self.right < self.left:
            raise NotAnInterval(
                f"The sign was seen at {self.right:g} days, before the last look without it at"
                f" {self.left:g} days."
            )
        if not (math.isfinite(self.weight) and self.weight > 0):
            raise NotAnInterval("A row stands for more than nothing: its weight is above 0.")

    @property
    def middle(self) -> float:
        """Midpoint of a seen row; the age known for the others."""
        return (self.left + self.right) / 2 if self.ending == "seen" else self.left


@dataclass(frozen=True, slots=True, kw_only=True)
class Pooled:
    """The rows as arrays, equal ones taken together.

    ``seen_left``, ``seen_right``, ``seen_weight`` : the (left, right] of those seen, shape (s,).
    ``open_left``, ``open_weight`` : ages of those waiting or lost, shape (o,).
    ``never`` : weight of those given up for no germination.
    """

    seen_left: Floats
    seen_right: Floats
    seen_weight: Floats
    open_left: Floats
    open_weight: Floats
    never: float

    @property
    def seen(self) -> float:
        """Weight of the rows whose next sign was seen."""
        return float(self.seen_weight.sum())

    @property
    def total(self) -> float:
        """Weight of all rows."""
        return self.seen + float(self.open_weight.sum()) + self.never


def pooled(rows: Sequence[StageInterval]) -> Pooled:
    """Take equal rows together; the order of the rows changes nothing. No rows: empty arrays."""
    seen: dict[tuple[float, float], float] = {}
    waiting: dict[float, float] = {}
    never = 0.0
    for row in rows:
        if row.ending == "seen":
            seen[row.left, row.right] = seen.get((row.left, row.right), 0.0) + row.weight
        elif row.ending == "no_germination":
            never += row.weight
        else:
            waiting[row.left] = waiting.get(row.left, 0.0) + row.weight
    pairs, ages = sorted(seen), sorted(waiting)
    ends = np.array(pairs, dtype=float).reshape(-1, 2)
    return Pooled(
        seen_left=ends[:, 0],
        seen_right=ends[:, 1],
        seen_weight=np.array([seen[pair] for pair in pairs], dtype=float),
        open_left=np.array(ages, dtype=float),
        open_weight=np.array([waiting[age] for age in ages], dtype=float),
        never=never,
    )
