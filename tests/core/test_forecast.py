"""Does the drawing of what becomes ready say what a plain simulation says?"""

from __future__ import annotations

import math
import random
from typing import Any

import numpy as np
import pytest

from batches.core.forecast import forecast
from batches.core.predictive import Draws
from batches.core.raising import FernModel, NothingToDraw, Rate, TrayNow
from batches.core.stages import ROUTES, Route, Stage
from batches.core.under_way import HORIZON

COUNT = 2_000


def times(days: float, *, sigma: float = 0.2, stalled: float = 0.0) -> Draws:
    """Times with a median near `days`, known for certain."""
    mu = math.log(days) - sigma * math.log(math.log(2))
    return Draws(
        mu=np.full(COUNT, mu), sigma=np.full(COUNT, sigma), stalled=np.full(COUNT, stalled)
    )


def model(**more) -> FernModel:
    settings: dict[str, Any] = {
        "key": "a fern", "route": Route.SPORE,
        "stages": {stage: times(60) for stage in ROUTES[Route.SPORE][:-1]},
        "rates": {Stage.PRICKED_OUT: Rate(mean=0.9, plants=5_000),
                  Stage.POTTED_UP: Rate(mean=0.95, plants=5_000)},
        "yields": (40, 60, 80), "losses": 0, "tray_days": 1e9,
    }  # fmt: skip
    return FernModel(**(settings | more))


def pots_by(trays, weeks=52, seed=3, **more):
    return forecast({"F": [(model(**more), trays)]}, weeks=weeks, seed=seed, draws=COUNT)["F"].pots


def potted(age: float, plants: int = 100) -> TrayNow:
    return TrayNow(stage=Stage.POTTED_UP, age=age, age_now=age, plants=plants)


def test_the_same_seed_gives_the_same_answer_and_no_trays_give_zeros():
    assert np.array_equal(pots_by([potted(10)]), pots_by([potted(10)]))
    assert not pots_by([]).any()
    assert pots_by([], weeks=9).shape == (COUNT, 9)


def test_all_pots_come_once_and_survivors_only():
    total = pots_by([potted(10)]).sum(axis=1)
    assert total.max() <= 100
    assert total.mean() == pytest.approx(95, abs=1.0)


def test_days_already_spent_are_held_against_a_plain_simulation():
    chance = random.Random(1)
    sigma, mu = 0.2, math.log(60) - 0.2 * math.log(math.log(2))
    waits: list[float] = []
    while len(waits) < 20_000:
        season = math.exp(chance.gauss(0, 0.06) + chance.gauss(0, 0.06))
        days = math.exp(mu) * season * chance.expovariate(1) ** sigma
        if days > 55:
            waits.append(days - 55)
    within = pots_by([potted(55)], weeks=2)[:, :1].sum(axis=1) > 0
    naive = sum(wait <= 7 for wait in waits) / len(waits)
    # The factors are not conditioned on the tray's age, which is why they part a little.
    assert within.mean() == pytest.approx(naive, abs=0.05)


def test_what_came_before_the_day_itself_counts_in_the_first_week():
    unseen = TrayNow(stage=Stage.POTTED_UP, age=20, age_now=400, plants=100)
    pots = pots_by([unseen], weeks=3)
    assert pots[:, 0].mean() > 90
    assert not pots[:, 1:].any()


def test_a_stalled_tray_never_comes_and_the_longer_it_waits_the_surer():
    late = {stage: times(60, stalled=0.2) for stage in ROUTES[Route.SPORE][:-1]}
    fresh = (pots_by([potted(1)], stages=late).sum(axis=1) == 0).mean()
    waited = (pots_by([potted(90)], stages=late).sum(axis=1) == 0).mean()
    assert fresh == pytest.approx(0.2, abs=0.03)
    assert waited > 0.9


def test_half_through_a_stage_less_is_left_to_lose():
    rates = {Stage.POTTED_UP: Rate(mean=0.5, plants=1e6)}
    fresh = pots_by([potted(0)], rates=rates).sum(axis=1).mean()
    half = pots_by([potted(58)], rates=rates).sum(axis=1).mean()
    assert fresh == pytest.approx(50, abs=2)
    # f(1 − g) / (1 − f·g) with f = .5 and g near .45
    assert half == pytest.approx(100 * (1 - 0.5 * 0.55 / (1 - 0.5 * 0.45)), abs=6)


def test_nothing_becomes_ready_in_a_rest():
    awake = np.ones(HORIZON, dtype=bool)
    awake[14:154] = False
    pots = pots_by([potted(50), potted(20)], weeks=40, awake=awake)
    assert not pots[:, 2:22].any()
    assert pots[:, 22:].any()


def test_an_uncounted_mat_gives_a_past_yield_less_what_it_gave():
    mat = TrayNow(stage=Stage.FIRST_FROND, age=10, age_now=10)
    rates = {stage: Rate(mean=0.999, plants=1e6) for stage in (Stage.PRICKED_OUT, Stage.POTTED_UP)}
    fresh = pots_by([mat], weeks=60, rates=rates).sum(axis=1)
    assert fresh.mean() == pytest.approx(60, abs=3)
    giving = TrayNow(
        stage=Stage.FIRST_FROND, age=90, age_now=90, picked=40, still_giving=True, next_in=5.0
    )
    assert pots_by([giving], weeks=60, rates=rates).sum(axis=1).mean() == pytest.approx(20, abs=3)
    done = TrayNow(stage=Stage.FIRST_FROND, age=90, age_now=90, picked=40)
    assert not pots_by([done], weeks=60).any()


def test_three_plants_a_pot():
    cells = TrayNow(stage=Stage.PRICKED_OUT, age=5, age_now=5, plants=300)
    total = pots_by([cells], weeks=60, plants_per_pot=3.0).sum(axis=1)
    assert total.mean() == pytest.approx(300 * 0.9 * 0.95 / 3, abs=4)


def test_bands_ascend_and_cover_eight_in_ten_of_their_own_draws():
    found = forecast({"F": [(model(), [potted(20)] * 10)]}, weeks=20, seed=1, draws=COUNT)["F"]
    for band in (*found.weekly(), *found.cumulative(), *found.four_weekly()):
        assert band.low <= band.likely <= band.high
    total = found.pots.sum(axis=1)
    last = found.cumulative()[-1]
    assert 0.78 <= ((total >= last.low) & (total <= last.high)).mean() <= 0.9
    assert found.chance_of(1, by_week=20) == pytest.approx(1.0)


def test_a_stage_without_times_and_mats_without_yields_are_told():
    with pytest.raises(NothingToDraw, match="no times"):
        pots_by([potted(1)], stages={})
    with pytest.raises(NothingToDraw, match="picked yet"):
        pots_by([TrayNow(stage=Stage.SOWN, age=1, age_now=1)], yields=())


def test_pots_are_told_apart_by_size_and_make_up_the_whole():
    mat = TrayNow(stage=Stage.FIRST_FROND, age=10, age_now=10)
    small = TrayNow(stage=Stage.POTTED_UP, age=20, age_now=20, plants=100, size="9cm")
    large = TrayNow(stage=Stage.POTTED_UP, age=20, age_now=20, plants=50, size="1l")
    found = forecast({"F": [(model(), [mat, small, large])]}, weeks=60, seed=2, draws=COUNT)["F"]

    parts = {size: found.of_size(size, by_week=60) for size in ("9cm", "1l", "")}

    assert parts["9cm"].mean() == pytest.approx(95, abs=1)
    assert parts["1l"].mean() == pytest.approx(47.5, abs=1)
    assert parts[""].mean() == pytest.approx(60 * 0.9 * 0.95, abs=3)
    assert sum(parts.values()) == pytest.approx(found.pots.sum(axis=1))
    assert not found.of_size("3l", by_week=60).any()


def test_what_comes_after_the_weeks_asked_for_changes_nothing_in_them():
    trays = [potted(5), TrayNow(stage=Stage.PRICKED_OUT, age=3, age_now=3, plants=80)] * 5
    short, long = pots_by(trays, weeks=12), pots_by(trays, weeks=80)
    for week in (8, 10, 12):
        a, b = short[:, :week].sum(axis=1), long[:, :week].sum(axis=1)
        assert a.mean() == pytest.approx(b.mean(), abs=4 * (b.std() + 1) / math.sqrt(COUNT / 2))
