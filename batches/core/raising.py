"""When does a tray give ready pots, and how many: drawn many times over?

The parts that `forecast` and `sowing` share. Times are Weibull with a stalled share, with the
parameters of a fit drawn anew in every draw; a tray that has waited already is conditioned on it.
Every draw has one season factor for all ferns and one speed factor a fern: what makes one tray
slow makes its neighbours slow. Stages from pricked out on run on a clock that rests with the fern.

Plants come from yields of past mats (a resample of a resample, so that few yields mean little is
known), then through each counted stage with a rate drawn anew and trays that differ.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from batches.core.errors import NurseryError
from batches.core.predictive import Draws
from batches.core.stages import RESTING_STAGES, ROUTES, Route, Stage, next_stage
from batches.core.under_way import FernCalendar, UnderWay

Floats = NDArray[np.float64]

#: spread (log) of a season common to all ferns, and of a fern's own speed; common practice, no
#: source (the prototype's .07 a stage, split between the two)
SEASON_SPREAD = 0.06
SPEED_SPREAD = 0.06
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
    where that is known; ``size`` the size of its pots, empty while they are in none.
    """

    stage: Stage
    age: float
    age_now: float
    plants: int | None = None
    picked: int = 0
    still_giving: bool = False
    next_in: float | None = None
    size: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TraysReady:
    """Trays that become ready, one row a draw and tray: arrays of shape (rows,).

    ``draw`` counts from the first draw of the part asked for, ``tray`` in the order given; ``day``
    is days after the day of the question, 0 for what had come before it.
    """

    draw: NDArray[np.intp]
    tray: NDArray[np.intp]
    day: Floats
    pots: Floats


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
    pots : array of the same shape, 0 for never
    """
    found = trays_ready(model, columns_of(model, trays), common, part=part)
    shape = (common.season[part].size, len(trays))
    days, pots = np.full(shape, np.inf), np.zeros(shape)
    days[found.draw, found.tray], pots[found.draw, found.tray] = found.day, found.pots
    return days, pots


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrayColumns:
    """Trays as columns, made once for all draws: arrays of shape (trays,).

    ``begins`` is the place of each tray's stage in the chain, ``next_in`` not a number where it is
    not known, ``plants`` 0 for uncounted mats, ``done`` whether a mat was picked for the last time.
    """

    begins: NDArray[np.intp]
    age: Floats
    age_now: Floats
    next_in: Floats
    counted: NDArray[np.bool_]
    plants: Floats
    picked: Floats
    done: NDArray[np.bool_]


def columns_of(model: FernModel, trays: Sequence[TrayNow]) -> TrayColumns:
    """Return the trays as columns."""
    order = _chain(model.route)
    return TrayColumns(
        begins=np.array([order.index(tray.stage) for tray in trays], dtype=np.intp),
        age=np.array([max(tray.age, 0.0) for tray in trays]),
        age_now=np.array([max(tray.age_now, tray.age, 0.0) for tray in trays]),
        next_in=np.array([np.nan if tray.next_in is None else tray.next_in for tray in trays]),
        counted=np.array([tray.plants is not None for tray in trays], dtype=bool),
        plants=np.array([float(tray.plants or 0) for tray in trays]),
        picked=np.array([float(tray.picked) for tray in trays]),
        done=np.array([tray.picked > 0 and not tray.still_giving for tray in trays], dtype=bool),
    )


def trays_ready(
    model: FernModel,
    trays: TrayColumns,
    common: Common,
    *,
    part: slice,
    until: float = math.inf,
) -> TraysReady:
    """Return, for a part of the draws, the trays that become ready by a day, one row each.

    Parameters
    ----------
    until : float
        Days after the day of the question; what comes later is let go as soon as that shows.
    """
    rng = common.rng
    season = common.season[part]
    speed = rng.normal(0.0, SPEED_SPREAD, season.size)
    order = _chain(model.route)
    calendar = FernCalendar(model.awake)
    going = UnderWay.nobody()
    for place, stage in enumerate(order):
        here = np.flatnonzero(trays.begins == place)
        if not (here.size or going.draw.size):
            continue
        draws = _of(model, stage)
        mu, sigma, stalled = draws.mu[part] + season + speed, draws.sigma[part], draws.stalled[part]
        resting = stage in RESTING_STAGES
        waits = rng.exponential(size=going.draw.size)
        days = np.exp(mu[going.draw] + sigma[going.draw] * np.log(waits))
        days[rng.random(days.size) < stalled[going.draw]] = np.inf
        going.move_to(calendar.after(going.at, days, resting=resting), covered=not resting)
        if here.size:
            left, gone = _remaining(mu, sigma, stalled, trays.age[here], trays.age_now[here], rng)
            known = trays.next_in[here]
            left = np.where(np.isnan(known), left, known)
            joining = UnderWay.from_today(here, gone)
            joining.move_to(
                calendar.after(joining.at, left.ravel(), resting=resting), covered=not resting
            )
            going = going.together_with(joining)
        going = going.only(np.isfinite(going.at) & (going.at <= until))
    pots = _pots(model, trays, order, going, season.size, rng)
    return TraysReady(draw=going.draw, tray=going.tray, day=going.at, pots=pots)


def _chain(route: Route) -> list[Stage]:
    """Return the stages of a route that lie before *ready*, in order."""
    return [stage for stage in ROUTES[route] if next_stage(route, stage) is not None]


def _of(model: FernModel, stage: Stage) -> Draws:
    try:
        return model.stages[stage]
    except KeyError:
        raise NothingToDraw(f"There are no times of “{stage}” for {model.key}.") from None


def _remaining(
    mu: Floats, sigma: Floats, stalled: Floats, age: Floats, now: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return the days still to wait after the day itself, and the share of the stage gone by.

    Both of shape (draws, trays); a tray that never moves on waits for ever.
    """
    mu, sigma, stalled = mu[:, None], sigma[:, None], stalled[:, None]
    with np.errstate(divide="ignore", over="ignore"):
        hazard = np.exp((np.log(np.maximum(age, 1e-9))[None, :] - mu) / sigma)
    hazard = np.where(age[None, :] > 0, hazard, 0.0)
    total = np.exp(mu + sigma * np.log(hazard + rng.exponential(size=hazard.shape)))
    left = np.maximum(total - now[None, :], 0.0)
    survive = np.exp(-hazard)
    never = stalled / (stalled + (1.0 - stalled) * survive)
    left = np.where(rng.random(left.shape) < never, np.inf, left)
    return left, 1.0 - survive


def _pots(
    model: FernModel, trays: TrayColumns, order: list[Stage],
    going: UnderWay, draws: int, rng: np.random.Generator,
) -> Floats:  # fmt: skip
    counted, plants = trays.counted[going.tray], trays.plants[going.tray]
    began = trays.begins[going.tray]
    mats = np.flatnonzero(~counted)
    if mats.size:
        plants[mats] = _given(model, trays, going.draw[mats], going.tray[mats], draws, rng)
        plants[mats] *= _not_lost(model, going.covered[mats], going.draw[mats], draws, rng)
    for place, stage in enumerate(order):
        rate = model.rates.get(stage)
        if rate is None:
            continue
        through = np.flatnonzero((began <= place) & (counted | (stage in RESTING_STAGES)))
        if not through.size:
            continue
        loss = 1.0 - _shares(rate, plants[through], going.draw[through], draws, rng)
        # Half through a stage, the half of its losses that lies behind shows in the count.
        gone = np.where(began[through] == place, going.gone[through], 0.0)
        loss = loss * (1.0 - gone) / np.maximum(1.0 - loss * gone, 1e-9)
        plants[through] *= 1.0 - loss
    in_pots = began >= order.index(Stage.POTTED_UP)
    return np.rint(np.where(in_pots, plants, plants / max(model.plants_per_pot, 1.0)))


def _given(
    model: FernModel, trays: TrayColumns, draw: NDArray[np.intp], tray: NDArray[np.intp],
    draws: int, rng: np.random.Generator,
) -> Floats:  # fmt: skip
    """Return plants that each mat still gives: a yield of a resampled past, less what it gave."""
    if not model.yields:
        raise NothingToDraw(f"No mat of {model.key} or its relatives has been picked yet.")
    past = np.asarray(model.yields, dtype=float)
    pool = past[rng.integers(past.size, size=(draws, past.size))]
    given = pool[draw, rng.integers(past.size, size=draw.size)]
    picked, done = trays.picked[tray], trays.done[tray]
    return np.where(done, 0.0, np.maximum(given - picked, 0.0))


def _not_lost(
    model: FernModel, covered: Floats, draw: NDArray[np.intp], draws: int,
    rng: np.random.Generator,
) -> Floats:  # fmt: skip
    """Return 1 where a covered tray is not lost as a whole before it is picked, else 0.

    The rate a tray-day is gamma: half a tray lost in six tray-years before any is seen.
    """
    rate = rng.gamma(0.5 + model.losses, 1.0, draws) / (2_200.0 + model.tray_days)
    return (rng.random(covered.size) < np.exp(-rate[draw] * covered)).astype(float)


def _drawn_rate(rate: Rate, draws: int, rng: np.random.Generator) -> Floats:
    mean = min(max(rate.mean, 0.005), 0.995)
    weight = max(rate.plants, 2.0)
    return rng.beta(mean * weight, (1.0 - mean) * weight, draws)


def _shares(
    rate: Rate, plants: Floats, draw: NDArray[np.intp], draws: int, rng: np.random.Generator
) -> Floats:
    """Return the share of each tray's plants that comes through: beta about the draw's own rate.

    Every draw has a pool of shares from which its trays take theirs: drawing a beta for each of
    ten million trays would take most of the time.
    """
    mean = np.clip(_drawn_rate(rate, draws, rng), 1e-3, 1.0 - 1e-3)[:, None]
    usual = max(float(plants.mean()), 1.0)
    alike = (1.0 + (usual - 1.0) * WITHIN_TRAY) / usual
    weight = max(1.0 / alike - 1.0, 0.2)
    size = min(_POOL, max(plants.size // draws, 32))
    pool = rng.beta(mean * weight, (1.0 - mean) * weight, (draws, size))
    return np.asarray(pool[draw, rng.integers(size, size=plants.size)])
