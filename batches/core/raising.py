"""When does a tray give ready pots, and how many: drawn many times over?

The parts that `forecast` and `sowing` share. Times are Weibull with a stalled share, with the
parameters of a fit drawn anew in every draw; a tray that has waited already is conditioned on it.
Every draw has one season factor for all ferns and one speed factor a fern: what makes one tray
slow makes its neighbours slow. Stages from pricked out on run on a clock that rests with the fern.

Plants come from yields of past mats (a resample of a resample, so that few yields mean little is
known), then through each counted stage with a rate drawn anew and trays that differ.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from batches.core.errors import NurseryError
from batches.core.predictive import Draws
from batches.core.stages import RESTING_STAGES, ROUTES, Route, Stage, next_stage

Floats = NDArray[np.float64]

#: spread (log) of a season common to all ferns, and of a fern's own speed; common practice, no
#: source (the prototype's .07 a stage, split between the two)
SEASON_SPREAD = 0.06
SPEED_SPREAD = 0.06
#: days ahead that are reckoned with; later than that is never
HORIZON = 366 * 8
#: correlation of plants within a tray where survival is spread over trays; common practice
WITHIN_TRAY = 0.1
_POOL = 512


class NothingToDraw(NurseryError):
    """A stage has no times, or yields are missing: nothing can be drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """What is known of survival in a counted stage: a mean and the plants it is worth."""

    mean: float
    plants: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FernModel:
    """Everything that is drawn for one fern and route.

    ``yields`` are plants that past mats gave in all their pickings; ``plants_per_pot`` at least 1;
    ``losses`` and ``tray_days`` count covered trays lost as a whole. ``awake`` holds, for each day
    after the day of the question, whether the fern is awake (shape (HORIZON,)); None without rest.
    """

    key: str
    route: Route
    stages: Mapping[Stage, Draws]
    rates: Mapping[Stage, Rate]
    yields: Sequence[int]
    plants_per_pot: float = 1.0
    losses: int = 0
    tray_days: float = 0.0
    awake: NDArray[np.bool_] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayNow:
    """A tray on the day of the question.

    ``age`` is its age in the stage at the last look without the next sign (on the day itself for
    done stages), ``age_now`` its age on the day; both on the stage's clock. ``plants`` is None for
    an uncounted mat; ``picked`` what it gave already; ``next_in`` the days to its next picking
    where that is known.
    """

    stage: Stage
    age: float
    age_now: float
    plants: int | None = None
    picked: int = 0
    still_giving: bool = False
    next_in: float | None = None


@dataclass(slots=True)
class Common:
    """The factors that all ferns of a draw share; each of shape (draws,)."""

    season: Floats
    rng: np.random.Generator = field(repr=False)


def common_factors(draws: int, rng: np.random.Generator) -> Common:
    """Return one season factor a draw."""
    return Common(season=rng.normal(0.0, SEASON_SPREAD, draws), rng=rng)


def ready_days_and_pots(
    model: FernModel, trays: Sequence[TrayNow], common: Common, *, part: slice
) -> tuple[Floats, Floats]:
    """Return, for a part of the draws, on which day each tray becomes ready, with how many pots.

    Returns
    -------
    days : array of shape (draws in part, trays)
        Days after the day of the question, 0 for what had come before it; infinite for never.
    pots : array of the same shape
    """
    rng = common.rng
    season = common.season[part][:, None]
    speed = rng.normal(0.0, SPEED_SPREAD, (season.shape[0], 1))
    shape = (season.shape[0], len(trays))
    at = np.zeros(shape)
    order = _chain(model.route)
    begins = np.array([order.index(tray.stage) for tray in trays])
    age = np.array([max(tray.age, 0.0) for tray in trays])
    now = np.array([max(tray.age_now, tray.age, 0.0) for tray in trays])
    known = np.array([np.nan if tray.next_in is None else tray.next_in for tray in trays])
    elapsed: dict[Stage, Floats] = {}
    covered = np.zeros(shape)
    for place, stage in enumerate(order):
        here = begins == place
        if not (begins <= place).any():
            continue
        draws = _of(model, stage)
        mu = draws.mu[part][:, None] + season + speed
        sigma = draws.sigma[part][:, None]
        stalled = draws.stalled[part][:, None]
        waits = rng.exponential(size=shape)
        moved = at.copy()
        if (begins < place).any():
            fresh = np.where(
                rng.random(shape) < stalled, np.inf, np.exp(mu + sigma * np.log(waits))
            )
            moved = np.where(begins < place, _advance(model, stage, at, fresh), moved)
        if here.any():
            left, gone = _remaining(mu, sigma, stalled, age, now, waits, rng)
            left = np.where(np.isnan(known), left, known)
            moved = np.where(here, _advance(model, stage, at, left), moved)
            elapsed[stage] = gone
        if stage not in RESTING_STAGES:
            span = np.minimum(moved, HORIZON) - np.minimum(at, HORIZON)
            covered += np.where(begins <= place, span, 0.0)
        at = moved
    pots = _pots(model, trays, order, begins, elapsed, covered, rng)
    return at, pots


def _chain(route: Route) -> list[Stage]:
    """Return the stages of a route that lie before *ready*, in order."""
    return [stage for stage in ROUTES[route] if next_stage(route, stage) is not None]


def _of(model: FernModel, stage: Stage) -> Draws:
    try:
        return model.stages[stage]
    except KeyError:
        raise NothingToDraw(f"There are no times of “{stage}” for {model.key}.") from None


def _remaining(
    mu: Floats, sigma: Floats, stalled: Floats, age: Floats, now: Floats, waits: Floats,
    rng: np.random.Generator,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Return the days still to wait after the day itself, and the share of the stage gone by."""
    with np.errstate(divide="ignore", over="ignore"):
        hazard = np.exp((np.log(np.maximum(age, 1e-9))[None, :] - mu) / sigma)
    hazard = np.where(age[None, :] > 0, hazard, 0.0)
    total = np.exp(mu + sigma * np.log(hazard + waits))
    left = np.maximum(total - now[None, :], 0.0)
    survive = np.exp(-hazard)
    never = stalled / (stalled + (1.0 - stalled) * survive)
    left = np.where(rng.random(left.shape) < never, np.inf, left)
    return left, 1.0 - survive


def _advance(model: FernModel, stage: Stage, start: Floats, days: Floats) -> Floats:
    """Return the calendar day reached after so many days on the stage's clock."""
    if model.awake is None or stage not in RESTING_STAGES:
        return start + days
    lived = np.concatenate([[0.0], np.cumsum(model.awake, dtype=float)])
    calendar = np.arange(lived.size, dtype=float)
    start_in = np.interp(np.minimum(start, HORIZON), calendar, lived)
    wanted = start_in + days
    # The first day on which so much was lived: always the end of an awake one.
    reached = np.searchsorted(lived, np.where(np.isfinite(wanted), wanted, np.inf), side="left")
    moved = np.where(days <= 0, start, np.maximum(reached.astype(float), start))
    return np.where((reached >= lived.size) | ~np.isfinite(start), np.inf, moved)


def _pots(
    model: FernModel, trays: Sequence[TrayNow], order: list[Stage], begins: NDArray[Any],
    elapsed: Mapping[Stage, Floats], covered: Floats, rng: np.random.Generator,
) -> Floats:  # fmt: skip
    draws = covered.shape[0]
    counted = np.array([tray.plants is not None for tray in trays])
    plants = np.tile(np.array([float(tray.plants or 0) for tray in trays]), (draws, 1))
    mats = ~counted
    if mats.any():
        plants = np.where(mats, _given(model, trays, draws, rng), plants)
        plants *= np.where(mats, _not_lost(model, covered, rng), 1.0)
    for place, stage in enumerate(order):
        rate = model.rates.get(stage)
        if rate is None:
            continue
        through = (begins <= place) & (counted | (stage in RESTING_STAGES))
        if not through.any():
            continue
        loss = 1.0 - _shares(rate, plants, rng)
        gone = elapsed.get(stage)
        if gone is not None:
            part_loss = loss * (1.0 - gone) / np.maximum(1.0 - loss * gone, 1e-9)
            loss = np.where(begins == place, part_loss, loss)
        plants = np.where(through, plants * (1.0 - loss), plants)
    in_pots = begins >= order.index(Stage.POTTED_UP)
    return np.rint(np.where(in_pots, plants, plants / max(model.plants_per_pot, 1.0)))


def _given(
    model: FernModel, trays: Sequence[TrayNow], draws: int, rng: np.random.Generator
) -> Floats:
    """Return plants that each mat still gives: a yield of a resampled past, less what it gave."""
    if not model.yields:
        raise NothingToDraw(f"No mat of {model.key} or its relatives has been picked yet.")
    past = np.asarray(model.yields, dtype=float)
    pool = past[rng.integers(past.size, size=(draws, past.size))]
    chosen = rng.integers(past.size, size=(draws, len(trays)))
    given = np.take_along_axis(pool, chosen, axis=1)
    picked = np.array([float(tray.picked) for tray in trays])
    done = np.array([tray.picked > 0 and not tray.still_giving for tray in trays])
    return np.where(done, 0.0, np.maximum(given - picked, 0.0))


def _not_lost(model: FernModel, covered: Floats, rng: np.random.Generator) -> Floats:
    """Return 1 where a covered tray is not lost as a whole before it is picked, else 0.

    The rate a tray-day is gamma: half a tray lost in six tray-years before any is seen.
    """
    draws = covered.shape[0]
    rate = rng.gamma(0.5 + model.losses, 1.0, (draws, 1)) / (2_200.0 + model.tray_days)
    return (rng.random(covered.shape) < np.exp(-rate * covered)).astype(float)


def _drawn_rate(rate: Rate, draws: int, rng: np.random.Generator) -> Floats:
    mean = min(max(rate.mean, 0.005), 0.995)
    weight = max(rate.plants, 2.0)
    return rng.beta(mean * weight, (1.0 - mean) * weight, draws)


def _shares(rate: Rate, plants: Floats, rng: np.random.Generator) -> Floats:
    """Return the share of each tray's plants that comes through: beta about the draw's own rate.

    Every draw has a pool of shares from which its trays take theirs: drawing a beta for each of
    ten million trays would take most of the time.
    """
    draws, trays = plants.shape
    mean = np.clip(_drawn_rate(rate, draws, rng), 1e-3, 1.0 - 1e-3)[:, None]
    usual = max(float(plants.mean()), 1.0)
    alike = (1.0 + (usual - 1.0) * WITHIN_TRAY) / usual
    weight = max(1.0 / alike - 1.0, 0.2)
    size = min(_POOL, max(trays, 32))
    pool = rng.beta(mean * weight, (1.0 - mean) * weight, (draws, size))
    return np.take_along_axis(pool, rng.integers(size, size=(draws, trays)), axis=1)
