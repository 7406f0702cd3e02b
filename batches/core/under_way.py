"""How far have the trays of a forecast come, in every draw, and on which day of the calendar?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: days ahead that are reckoned with; later than that is never
HORIZON = 366 * 8


@dataclass(slots=True, kw_only=True, eq=False)
class UnderWay:
    """Trays on their way, one row a draw and tray; arrays of shape (rows,).

    ``at`` is the day reached, ``covered`` the days under cover after the day of the question,
    ``gone`` the share of its present stage that a tray had behind it on that day.
    """

    draw: NDArray[np.intp]
    tray: NDArray[np.intp]
    at: Floats
    covered: Floats
    gone: Floats

    @staticmethod
    def nobody() -> UnderWay:
        none, nowhere = np.empty(0), np.empty(0, dtype=np.intp)
        return UnderWay(draw=nowhere, tray=nowhere, at=none, covered=none, gone=none)

    @staticmethod
    def from_today(trays: NDArray[np.intp], gone: Floats) -> UnderWay:
        """Start these trays on the day of the question in every draw; gone: (draws, trays)."""
        draws = gone.shape[0]
        return UnderWay(
            draw=np.repeat(np.arange(draws), trays.size), tray=np.tile(trays, draws),
            at=np.zeros(gone.size), covered=np.zeros(gone.size), gone=gone.ravel(),
        )  # fmt: skip

    def move_to(self, at: Floats, *, covered: bool) -> None:
        if covered:
            self.covered = self.covered + np.minimum(at, HORIZON) - np.minimum(self.at, HORIZON)
        self.at = at

    def only(self, kept: NDArray[np.bool_]) -> UnderWay:
        if kept.all():
            return self
        rows = np.flatnonzero(kept)
        return UnderWay(
            draw=self.draw.take(rows), tray=self.tray.take(rows), at=self.at.take(rows),
            covered=self.covered.take(rows), gone=self.gone.take(rows),
        )  # fmt: skip

    def together_with(self, other: UnderWay) -> UnderWay:
        if not self.draw.size:
            return other
        return UnderWay(
            **{
                name: np.concatenate([getattr(self, name), getattr(other, name)])
                for name in ("draw", "tray", "at", "covered", "gone")
            }
        )


class FernCalendar:
    """Turns days on the clock of a fern that rests into days of the calendar."""

    def __init__(self, awake: NDArray[np.bool_] | None) -> None:
        self._lived: Floats | None = None
        if awake is not None:
            self._lived = np.concatenate([[0.0], np.cumsum(awake, dtype=float)])

    def after(self, start: Floats, days: Floats, *, resting: bool) -> Floats:
        """Return the day reached after so many days of a stage, one in which it rests or not."""
        lived = self._lived
        if lived is None or not resting:
            return start + days
        calendar = np.arange(lived.size, dtype=float)
        start_in = np.interp(np.minimum(start, HORIZON), calendar, lived)
        wanted = start_in + days
        # The first day on which so much was lived: always the end of an awake one.
        reached = np.searchsorted(lived, np.where(np.isfinite(wanted), wanted, np.inf), side="left")
        moved = np.where(days <= 0, start, np.maximum(reached.astype(float), start))
        return np.where(reached >= lived.size, np.inf, moved)
