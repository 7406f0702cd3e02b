"""How many trays must be sown, and when at the latest, for so many pots by a day?

New sowings only, ready by the day inclusive. Days are offered from the day after the question on;
the answer is the smallest number of trays on any of them, and the latest day on which that number
still reaches the chance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from batches.core.errors import NurseryError
from batches.core.raising import (
    FernModel,
    TrayNow,
    common_factors,
    ready_days_and_pots,
)
from batches.core.stages import ROUTES
from batches.core.under_way import HORIZON

Floats = NDArray[np.float64]
DRAWS = 2_000
MOST_TRAYS = 2_000
#: trays × draws held at once
_MOST_CELLS = 3_000_000
_BLOCK = 100
#: rows of the table that shows how later sowings need more trays
TABLE_ROWS = 12


class BadPlan(NurseryError):
    """The question makes no sense: pots, chance or day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """On this day (days after the question), so many trays reach the chance; None: none do."""

    sow_in: int
    trays: int | None
    chance: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SowingAnswer:
    """The fewest trays, the latest day for them, the chance then, and pots to expect.

    ``trays`` and ``sow_in`` are None where the chance is not reached on any day; ``best_chance``
    is then the best there is, with as many trays as were tried.
    """

    trays: int | None
    sow_in: int | None
    chance: float
    expected_pots: float
    best_chance: float
    usual_lead_days: float
    table: tuple[PlanRow, ...]


def plan_sowing(
    model: FernModel,
    *,
    pots: int,
    days: int,
    chance: float,
    seed: int,
    draws: int = DRAWS,
    most_trays: int = MOST_TRAYS,
) -> SowingAnswer:
    """Return the smallest sowing that gives at least ``pots`` within ``days`` with the chance.

    Parameters
    ----------
    model : FernModel
        Its `awake` days are counted from the day of the question.
    days : int
        Days from the question to the day wanted, inclusive; below 1 nothing can be met.

    Raises
    ------
    BadPlan
        When pots are below 1, or the chance is not between 0 and 1.
    """
    if pots < 1:
        raise BadPlan("Plan for at least one pot.", field="pots")
    if not 0 < chance < 1:
        raise BadPlan("The chance lies between 0 and 1, such as 0.9.", field="chance")
    trial = _lead_and_pots(model, trays=60, draws=min(draws, 400), seed=seed, sow_in=1)
    usual = float(np.median(trial[0]))
    each = float(np.where(np.isfinite(trial[0]), trial[1], 0.0).mean())
    if days < 1 or each <= 0:
        return _cannot(usual, 0.0)
    wanted = min(most_trays, max(12, math.ceil(2.5 * pots / each) + 8))
    draws = min(draws, max(400, _MOST_CELLS // wanted))
    sower = _Sower(model, trays=wanted, draws=draws, seed=seed, days=days, pots=pots)
    fewest, best = sower.fewest(1, chance)
    for sow_in in _other_days(model, days):
        other, reached = sower.fewest(sow_in, chance)
        best = max(best, reached)
        if other is not None and (fewest is None or other < fewest):
            fewest = other
    if fewest is None:
        return _cannot(usual, best)
    latest = sower.latest(fewest, chance)
    return SowingAnswer(
        trays=fewest,
        sow_in=latest,
        chance=sower.chance_of(fewest, latest),
        expected_pots=sower.expected(fewest, latest),
        best_chance=best,
        usual_lead_days=usual,
        table=tuple(_table(sower, latest, chance, days)),
    )


def _cannot(usual: float, best: float) -> SowingAnswer:
    return SowingAnswer(
        trays=None, sow_in=None, chance=0.0, expected_pots=0.0, best_chance=best,
        usual_lead_days=usual, table=(),
    )  # fmt: skip


def _other_days(model: FernModel, days: int) -> Sequence[int]:
    """Return further days to try: without a rest the first day is never the worse one."""
    return range(8, days, 14) if model.awake is not None else ()


def _table(sower: _Sower, latest: int, chance: float, days: int) -> list[PlanRow]:
    """Return rows around the latest day and after it, where later sowings need more trays."""
    first = max(1, latest - 84)
    step = max(7, math.ceil((days - first) / (3 * TABLE_ROWS) / 7) * 7)
    rows: list[PlanRow] = []
    for sow_in in sorted({latest, *range(first, days, step)}):
        trays, reached = sower.fewest(sow_in, chance)
        rows.append(PlanRow(sow_in=sow_in, trays=trays, chance=reached))
        if trays is None or len(rows) > TABLE_ROWS:
            break
    return rows


def _lead_and_pots(
    model: FernModel, *, trays: int, draws: int, seed: int, sow_in: int
) -> tuple[Floats, Floats]:
    """Return lead days and pots of trays sown on a day; the same seed gives the same draws."""
    moved = model
    if model.awake is not None:
        shifted = np.concatenate([model.awake[sow_in:], model.awake[-366:]])[:HORIZON]
        moved = replace(model, awake=np.resize(shifted, HORIZON))
    rng = np.random.default_rng(seed)
    common = common_factors(draws, rng)
    start = ROUTES[model.route][0]
    fresh = [TrayNow(stage=start, age=0.0, age_now=0.0)] * trays
    days, pots = np.empty((draws, trays)), np.empty((draws, trays))
    for begin in range(0, draws, _BLOCK):
        part = slice(begin, min(begin + _BLOCK, draws))
        days[part], pots[part] = ready_days_and_pots(moved, fresh, common, part=part)
    return days, pots


class _Sower:
    """Answers for one plan; without a rest all days share one set of draws."""

    def __init__(
        self, model: FernModel, *, trays: int, draws: int, seed: int, days: int, pots: int
    ) -> None:
        self._model, self._trays, self._draws, self._seed = model, trays, draws, seed
        self._days, self._pots = days, pots
        self._drawn: dict[int, tuple[Floats, Floats]] = {}

    def _at(self, sow_in: int) -> tuple[Floats, Floats]:
        key = sow_in if self._model.awake is not None else 0
        if key not in self._drawn:
            self._drawn = {
                key: _lead_and_pots(
                    self._model, trays=self._trays, draws=self._draws, seed=self._seed,
                    sow_in=max(key, 1),
                )
            }  # fmt: skip
        return self._drawn[key]

    def _in_time(self, sow_in: int) -> Floats:
        lead, pots = self._at(sow_in)
        return np.where(np.ceil(lead) <= self._days - sow_in, pots, 0.0)

    def fewest(self, sow_in: int, chance: float) -> tuple[int | None, float]:
        """Return the fewest trays that reach the chance when sown on a day, and the chance."""
        sums = np.cumsum(self._in_time(sow_in), axis=1)
        reached = (sums >= self._pots).mean(axis=0)
        good = np.flatnonzero(reached >= chance)
        if good.size == 0:
            return None, float(reached[-1])
        return int(good[0]) + 1, float(reached[good[0]])

    def chance_of(self, trays: int, sow_in: int) -> float:
        """Return the chance that so many trays sown on a day give the pots in time."""
        sums = self._in_time(sow_in)[:, :trays].sum(axis=1)
        return float((sums >= self._pots).mean())

    def expected(self, trays: int, sow_in: int) -> float:
        """Return the mean number of pots in time."""
        return float(self._in_time(sow_in)[:, :trays].sum(axis=1).mean())

    def latest(self, trays: int, chance: float) -> int:
        """Return the latest day on which so many trays still reach the chance."""
        if self._model.awake is None:
            low, high = 1, self._days
            while low < high:
                middle = (low + high + 1) // 2
                if self.chance_of(trays, middle) >= chance:
                    low = middle
                else:
                    high = middle - 1
            return low
        for sow_in in range(self._days - 1, 0, -7):
            if self.chance_of(trays, sow_in) >= chance:
                later = range(min(sow_in + 6, self._days - 1), sow_in, -1)
                return next((d for d in later if self.chance_of(trays, d) >= chance), sow_in)
        return 1
