"""Nurseries whose every tray's fate is known: what becomes ready against what was forecast.

A fern's five stages have times of their own; its trays are sown over two years; a season that
none of its records tells of makes all of them faster or slower. Common practice, no source: nobody
has measured a fern nursery for this.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from batches.core.durations import estimate_stage
from batches.core.forecast import FernForecast, forecast
from batches.core.intervals import StageInterval
from batches.core.raising import FernModel, Rate, TrayNow
from batches.core.sowing import SowingAnswer, plan_sowing
from batches.core.stages import FernKind, Route, Stage, Window, default_window
from batches.core.survival import default_rate_prior, estimate_survival
from tests.simulate.stage_times import Fern, looked_at
from tests.simulate.tray_survival import passages

CHAIN = (Stage.SOWN, Stage.GAMETOPHYTE, Stage.FIRST_FROND, Stage.PRICKED_OUT, Stage.POTTED_UP)
BETWEEN_FERNS, SEASON, SPEED = 0.40, 0.06, 0.06
WITHIN_TRAY = 0.10
STALLED = 0.03
#: a covered tray is lost as a whole once in so many tray-days
TRAY_DAYS_PER_LOSS = 2_500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What nobody in the nursery knows of its fern."""

    times: dict[Stage, Fern]
    rates: dict[Stage, float]
    mean_yield: float


def some_truth(rng: np.random.Generator) -> Truth:
    """Return a fern whose medians lie round the middles of the default windows."""
    times = {}
    for stage in CHAIN:
        window = _window(stage)
        middle = math.sqrt(window.early * window.late)
        times[stage] = Fern(
            median=middle * math.exp(BETWEEN_FERNS * rng.standard_normal()),
            shape=float(rng.uniform(2.5, 4.5)),
        )
    rates = {Stage.PRICKED_OUT: float(rng.beta(18, 2)), Stage.POTTED_UP: float(rng.beta(30, 2))}
    return Truth(times=times, rates=rates, mean_yield=float(rng.uniform(30, 90)))


def learned(rng: np.random.Generator, truth: Truth, *, trays: int, draws: int) -> FernModel:
    """Return what the nursery makes of a history of so many trays a stage, looked at weekly."""
    stages = {}
    for stage in CHAIN:
        fern = truth.times[stage]
        rows: list[StageInterval] = []
        for time in fern.times(rng, trays):
            true = math.inf if rng.random() < STALLED else float(time)
            rows.append(looked_at(rng, true, until=6 * fern.median))
        estimate = estimate_stage(rows, window=_window(stage))
        drawn = estimate.draws(draws)
        mixed = rng.permutation(draws)
        stages[stage] = type(drawn)(
            mu=drawn.mu[mixed], sigma=drawn.sigma[mixed], stalled=drawn.stalled[mixed]
        )
    rates = {}
    for stage, rate in truth.rates.items():
        rows_out = passages(rng, rate=rate, correlation=WITHIN_TRAY, trays=trays)
        found = estimate_survival(rows_out, prior=default_rate_prior(stage))
        rates[stage] = Rate(mean=found.expected_rate, plants=found.effective_plants + 4.0)
    tray_days = trays * 150.0
    return FernModel(
        key="a fern",
        route=Route.SPORE,
        stages=stages,
        rates=rates,
        yields=tuple(int(y) for y in _yields(rng, truth, trays)),
        losses=int(rng.poisson(tray_days / TRAY_DAYS_PER_LOSS)),
        tray_days=tray_days,
    )


def standing_now(
    rng: np.random.Generator, truth: Truth, trays: int
) -> tuple[list[TrayNow], list[tuple[float, int]]]:
    """Return trays that stand today, with the day each becomes ready and its pots."""
    factor = math.exp(SEASON * rng.standard_normal() + SPEED * rng.standard_normal())
    now: list[TrayNow] = []
    came: list[tuple[float, int]] = []
    while len(now) < trays:
        clock = -float(rng.uniform(0, 730))
        here: Stage | None = None
        age, counted, gone_before = 0.0, None, False
        plants = int(_yields(rng, truth, 1)[0])
        lost_on = clock + float(rng.exponential(TRAY_DAYS_PER_LOSS))
        for stage in CHAIN:
            days = float(truth.times[stage].times(rng, 1)[0]) * factor
            if rng.random() < STALLED:
                days = math.inf
            covered = stage not in (Stage.PRICKED_OUT, Stage.POTTED_UP)
            if here is None and clock <= 0 < clock + days:
                here, age = stage, -clock
                counted = None if covered else plants
                gone_before = covered and lost_on <= 0
            if not covered:
                rate = truth.rates[stage]
                strength = 1 / WITHIN_TRAY - 1
                own = rng.beta(rate * strength, (1 - rate) * strength)
                if here is stage and math.isfinite(days):
                    # Losses fall evenly over the stage in its own share of time gone by.
                    gone = 1 - math.exp(-((age / (truth.times[stage].scale * factor))
                                          ** truth.times[stage].shape))  # fmt: skip
                    loss = 1 - own
                    own = 1 - loss * (1 - gone) / max(1 - loss * gone, 1e-9)
                plants = int(rng.binomial(plants, own))
            elif here is not None and lost_on < clock + days:
                plants = 0
            clock += days
            if math.isinf(clock):
                break
        if here is None or gone_before:
            continue
        now.append(TrayNow(stage=here, age=age, age_now=age, plants=counted))
        came.append((clock, plants))
    return now, came


def judged_bands(
    seed: int, *, trays: int = 20, history: int = 30, weeks: int = 52, draws: int = 400
) -> tuple[FernForecast, np.ndarray]:
    """Return one nursery's forecast and the pots that had come by the end of each week."""
    rng = np.random.default_rng(seed)
    truth = some_truth(rng)
    model = learned(rng, truth, trays=history, draws=draws)
    now, came = standing_now(rng, truth, trays)
    found = forecast({"fern": [(model, now)]}, weeks=weeks, seed=seed, draws=draws)["fern"]
    by_week = np.array(
        [sum(pots for day, pots in came if day <= 7 * week) for week in range(1, weeks + 1)]
    )
    return found, by_week


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedPlan:
    """A sowing plan held against the truth.

    ``reached`` is how often it truly succeeds; ``fewest`` the fewest trays that truly would have,
    None where three times as many would not; ``days_early`` how many days later its trays could
    truly have been sown with the chance asked for (below 0: they were sown too late), None where
    they never reach it.
    """

    answer: SowingAnswer
    reached: float = math.nan
    fewest: int | None = None
    days_early: float | None = None


def judged_plan(
    seed: int, *, pots: int, days: int, chance: float = 0.9, history: int = 30, tries: int = 400
) -> JudgedPlan:
    """Plan in one nursery and sow the plan many times over."""
    rng = np.random.default_rng(seed)
    truth = some_truth(rng)
    model = learned(rng, truth, trays=history, draws=1_000)
    answer = plan_sowing(model, pots=pots, days=days, chance=chance, seed=seed, draws=1_000)
    if answer.trays is None or answer.sow_in is None:
        return JudgedPlan(answer=answer)
    most = 3 * answer.trays + 10
    in_time, needed = np.zeros((tries, most)), np.zeros(tries)
    for number in range(tries):
        lead, plants = _sown(rng, truth, most)
        in_time[number] = np.where(lead <= days - answer.sow_in, plants, 0.0)
        needed[number] = _days_until(pots, lead[: answer.trays], plants[: answer.trays])
    reached = (np.cumsum(in_time, axis=1) >= pots).mean(axis=0)
    enough = np.flatnonzero(reached >= chance)
    # So many days before the last one the plan's trays reach the chance, and no fewer.
    lead_needed = np.sort(needed)[math.ceil(chance * tries) - 1]
    latest = days - math.ceil(lead_needed) if math.isfinite(lead_needed) else None
    return JudgedPlan(
        answer=answer,
        reached=float(reached[answer.trays - 1]),
        fewest=int(enough[0]) + 1 if enough.size else None,
        days_early=None if latest is None else latest - answer.sow_in,
    )


def _days_until(pots: int, lead: np.ndarray, plants: np.ndarray) -> float:
    order = np.argsort(lead)
    enough = np.flatnonzero(np.cumsum(plants[order]) >= pots)
    return float(lead[order][enough[0]]) if enough.size else math.inf


def _sown(rng: np.random.Generator, truth: Truth, trays: int) -> tuple[np.ndarray, np.ndarray]:
    """Return days to ready pots, infinite for never, and the pots, of trays sown together."""
    factor = math.exp(SEASON * rng.standard_normal() + SPEED * rng.standard_normal())
    clock, covered = np.zeros(trays), np.zeros(trays)
    plants = _yields(rng, truth, trays).astype(float)
    for stage in CHAIN:
        took = truth.times[stage].times(rng, trays) * factor
        took = np.where(rng.random(trays) < STALLED, np.inf, took)
        clock = clock + took
        if stage in truth.rates:
            strength = 1 / WITHIN_TRAY - 1
            rate = truth.rates[stage]
            own = rng.beta(rate * strength, (1 - rate) * strength, trays)
            plants = rng.binomial(plants.astype(int), own).astype(float)
        else:
            covered = clock
    lost = rng.exponential(TRAY_DAYS_PER_LOSS, trays) < covered
    return clock, np.where(np.isfinite(clock) & ~lost, plants, 0.0)


def _yields(rng: np.random.Generator, truth: Truth, trays: int) -> np.ndarray:
    """Plants a mat gives: gamma, differing by half its mean."""
    return np.rint(rng.gamma(4.0, truth.mean_yield / 4.0, trays)).astype(int)


def _window(stage: Stage) -> Window:
    window = default_window(Route.SPORE, stage, FernKind.HARDY)
    assert window is not None
    return window
