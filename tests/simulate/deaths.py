"""How many plants of a counted tray die, when, of what, and when does somebody notice?"""

from __future__ import annotations

import math
from datetime import date

from batches.core.signs import Sign
from batches.core.stages import Stage
from tests.simulate.grower import Grower
from tests.simulate.stock import Tray

_CAUSES: dict[Stage, dict[str, float]] = {
    Stage.DIVIDED: {"rot": 3, "dry": 2, "unknown": 1},
    Stage.PRICKED_OUT: {
        "rot": 6, "dry": 4, "slugs": 2.5, "sciarids": 2.5, "scorch": 1.5, "damaged": 1,
        "moss_liverwort": 1, "vine_weevil": 0.6, "unknown": 3,
    },
    Stage.POTTED_UP: {
        "vine_weevil": 4, "slugs": 3, "dry": 4, "rot": 3, "frost": 2, "scorch": 1.5,
        "leaf_eelworm": 0.5, "aphid": 0.7, "damaged": 1.2, "unknown": 2,
    },
}  # fmt: skip
_COLD_MONTHS = (12, 1, 2, 3)
_SIGNS = frozenset(str(sign) for sign in Sign)


class Deaths:
    """The plants of one tray that will die in its stage, found at later looks.

    ``end`` is when the stage is truly over; a tray that never gets there is given the fern's own
    median time and a third.
    """

    def __init__(self, grower: Grower, tray: Tray, stage: Stage, *, end: float) -> None:
        self.grower = grower
        self.tray = tray
        self.days = self._dying_days(stage, end)
        self.place = 0
        self.unnoted = 0
        causes = _CAUSES.get(stage, _CAUSES[Stage.PRICKED_OUT])
        self.causes = tuple(causes)
        self.weights = tuple(causes.values())
        self.main = grower.rng.choices(self.causes, self.weights)[0]

    def _dying_days(self, stage: Stage, end: float) -> list[int]:
        rng, tray, fern = self.grower.rng, self.tray, self.tray.batch.fern
        mean = min(0.995, fern.survives(stage))
        size = 1 / fern.spread - 1
        tray.survival = rng.betavariate(mean * size, (1 - mean) * size)
        if math.isinf(end):
            law = fern.stages.get((tray.batch.route, stage))
            end = tray.started + 1.3 * (law.quantile(0.5) if law else 120)
        days = []
        for arrived, many in tray.arrivals:
            span = max(1.0, end - arrived - 1)
            days += [
                arrived + 1 + int(span * rng.random() ** 1.4)
                for _ in range(many)
                if rng.random() > tray.survival
            ]
        return sorted(days)

    def note(self, day: int) -> tuple[int | None, bool]:
        """Write down the losses found that day; return what was counted, if anything."""
        found = self._found(day)
        grower, tray = self.grower, self.tray
        if day > grower.last_deed:
            return None, False
        if found:
            if grower.happens(0.1):
                self.unnoted += found
            else:
                tray.take_away(day, "loss", found, grower.somebody(), cause=self.cause(day))
        if self.unnoted and grower.happens(0.3):
            self._take_stock(day)
            return alive_on(tray, day), False
        if not self.unnoted and alive_on(tray, day) > 5 and grower.happens(grower.habits.recounts):
            tray.recount(day, grower.rng.choice((-1, 1, 1, 2)), grower.somebody())
            return alive_on(tray, day), False
        if (found and grower.happens(0.6)) or grower.happens(0.12):
            exact = alive_on(tray, day) - self.unnoted
            if self.unnoted or grower.happens(0.15):
                return max(1, exact // 5 * 5), True
            return exact, False
        return None, False

    def settle(self, day: int) -> None:
        """Bring the book up to what is alive before the tray is emptied."""
        found = self._found(day)
        if found:
            self.tray.take_away(day, "loss", found, self.grower.somebody(), cause=self.cause(day))
        if self.unnoted:
            self._take_stock(day)

    def _take_stock(self, day: int) -> None:
        self.tray.recount(day, -self.unnoted, self.grower.somebody())
        self.unnoted = 0

    def _found(self, day: int) -> int:
        if day > self.grower.last_deed:
            return 0
        found = 0
        while self.place < len(self.days) and self.days[self.place] <= day:
            self.place += 1
            found += 1
        return max(0, min(found, alive_on(self.tray, day) - self.unnoted))

    def cause(self, day: int) -> str:
        """Return why plants died: mostly the tray's main trouble; frost only in winter."""
        rng = self.grower.rng
        cause = self.main if rng.random() < 0.7 else rng.choices(self.causes, self.weights)[0]
        if cause == "frost" and date.fromordinal(day).month not in _COLD_MONTHS:
            return "unknown"
        return cause


def alive_on(tray: Tray, day: int) -> int:
    """Return what the book holds at the end of the day, arrivals still to come left out."""
    coming = sum(many for arrived, many in tray.arrivals if arrived > day)
    return (tray.alive or 0) - coming


def sign_of(cause: str) -> tuple[str, ...]:
    """Return the sign that goes with a cause of loss; empty when it is none."""
    return (cause,) if cause in _SIGNS else ()
