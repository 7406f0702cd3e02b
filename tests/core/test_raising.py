"""Does the drawing of many trays at once say what plain loops over single trays say?"""

from __future__ import annotations

import math
import random

import numpy as np
import pytest

from batches.core.raising import (
    SEASON_SPREAD,
    SPEED_SPREAD,
    WITHIN_TRAY,
    Rate,
    TrayNow,
    columns_of,
    common_factors,
    ready_days_and_pots,
    trays_ready,
)
from batches.core.stages import RESTING_STAGES, ROUTES, Route, Stage
from batches.core.under_way import HORIZON
from tests.core.test_forecast import COUNT, model, times

CHAIN: list[Stage] = [stage for stage in ROUTES[Route.SPORE] if stage is not Stage.READY]
AWAKE = np.array([day % 365 < 240 for day in range(HORIZON)])
TRAYS = [
    TrayNow(stage=Stage.SOWN, age=0, age_now=3),
    TrayNow(stage=Stage.GAMETOPHYTE, age=50, age_now=60),
    TrayNow(stage=Stage.FIRST_FROND, age=40, age_now=40, picked=30, still_giving=True, next_in=9.0),
    TrayNow(stage=Stage.PRICKED_OUT, age=30, age_now=30, plants=120),
    TrayNow(stage=Stage.POTTED_UP, age=45, age_now=52, plants=100),
]
RATES = {
    Stage.PRICKED_OUT: Rate(mean=0.8, plants=60),
    Stage.POTTED_UP: Rate(mean=0.9, plants=60),
}
SETTINGS = {
    "stages": {stage: times(50, sigma=0.3, stalled=0.1) for stage in CHAIN},
    "rates": RATES, "plants_per_pot": 2.0, "losses": 2, "tray_days": 2_000.0, "awake": AWAKE,
}  # fmt: skip


def one_life(tray: TrayNow, chance: random.Random, pace: float) -> tuple[float, float]:
    """Second implementation: the day on which one tray is ready, and its pots, by plain steps."""
    fern = model(**SETTINGS)
    at, covered, gone = 0.0, 0.0, 0.0
    for place, stage in enumerate(CHAIN):
        if place < CHAIN.index(tray.stage):
            continue
        draws = fern.stages[stage]
        mu, sigma, stalled = float(draws.mu[0]) + pace, float(draws.sigma[0]), 0.1
        if stage is tray.stage:
            hazard = math.exp((math.log(tray.age) - mu) / sigma) if tray.age else 0.0
            gone = 1 - math.exp(-hazard)
            stalled = stalled / (stalled + (1 - stalled) * math.exp(-hazard))
            total = math.exp(mu + sigma * math.log(hazard + chance.expovariate(1)))
            days = max(total - tray.age_now, 0.0)
        else:
            days = math.exp(mu + sigma * math.log(chance.expovariate(1)))
        never = chance.random() < stalled
        if stage is tray.stage and tray.next_in is not None:
            days, never = tray.next_in, False
        if never:
            return math.inf, 0.0
        before = at
        at = _awake_days_on(at, days) if stage in RESTING_STAGES else at + days
        if stage not in RESTING_STAGES:
            covered += at - before
    plants = float(tray.plants or 0)
    if tray.plants is None:
        plants = max(chance.choice(fern.yields) - tray.picked, 0)
        per_day = chance.gammavariate(0.5 + fern.losses, 1.0) / (2_200 + fern.tray_days)
        plants *= chance.random() < math.exp(-per_day * covered)
    for stage, rate in RATES.items():
        if CHAIN.index(stage) < CHAIN.index(tray.stage):
            continue
        mean = chance.betavariate(rate.mean * rate.plants, (1 - rate.mean) * rate.plants)
        weight = 1 / ((1 + (80 - 1) * WITHIN_TRAY) / 80) - 1
        loss = 1 - chance.betavariate(mean * weight, (1 - mean) * weight)
        behind = gone if stage is tray.stage else 0.0
        plants *= 1 - loss * (1 - behind) / (1 - loss * behind)
    return at, round(plants if tray.stage is Stage.POTTED_UP else plants / fern.plants_per_pot)


def _awake_days_on(start: float, days: float) -> float:
    if days <= 0:
        return start
    lived, day = 0.0, start
    while lived < days and day < HORIZON:
        step = min(math.floor(day) + 1 - day, 1.0)
        lived += step * bool(AWAKE[math.floor(day)])
        day += step
    return max(float(math.ceil(day)), start)


@pytest.mark.parametrize("tray", TRAYS, ids=lambda tray: str(tray.stage))
def test_days_and_pots_are_those_of_single_trays(tray):
    chance = random.Random(7)
    lives = []
    for _ in range(3_000):
        pace = chance.gauss(0, SEASON_SPREAD) + chance.gauss(0, SPEED_SPREAD)
        lives.append(one_life(tray, chance, pace))
    rng = np.random.default_rng(2)
    day, pots = ready_days_and_pots(
        model(**SETTINGS), [tray] * 4, common_factors(COUNT, rng), part=slice(0, COUNT)
    )

    ready = np.isfinite(day)
    plain = [life for life in lives if math.isfinite(life[0])]
    assert ready.mean() == pytest.approx(len(plain) / len(lives), abs=0.03)
    shares = (0.1, 0.5, 0.9)
    ends = np.quantile([life[0] for life in plain], shares)
    assert np.quantile(day[ready], shares) == pytest.approx(ends, rel=0.04, abs=2)
    theirs = np.array([life[1] for life in plain])
    assert pots[ready].mean() == pytest.approx(theirs.mean(), rel=0.05)
    assert pots[ready].std() == pytest.approx(theirs.std(), rel=0.12)


def test_with_a_last_day_only_what_comes_by_then_is_told():
    def told(until: float):
        common = common_factors(COUNT, np.random.default_rng(3))
        fern = model(**SETTINGS)
        columns = columns_of(fern, TRAYS)
        return trays_ready(fern, columns, common, part=slice(0, COUNT), until=until)

    early, every = told(200.0), told(math.inf)
    assert early.day.max() <= 200.0
    for number in range(len(TRAYS)):
        share = ((every.tray == number) & (every.day <= 200.0)).sum() / COUNT
        assert (early.tray == number).sum() / COUNT == pytest.approx(share, abs=0.04)
