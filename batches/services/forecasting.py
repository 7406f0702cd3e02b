"""What will be ready here, by what was seen until a day?

Gathers what the drawing needs: where every tray stands, the ferns' times and rates, past yields,
pots of several plants, trays lost as a whole, and the days on which a fern is awake.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from batches.core.durations import StageEstimate, estimate_stage
from batches.core.forecast import DRAWS, FernForecast, forecast
from batches.core.history import Standing
from batches.core.lateness import stage_rest
from batches.core.ledger import balance
from batches.core.pot_size import size_key
from batches.core.predictive import Draws
from batches.core.raising import FernModel, Rate, TrayNow
from batches.core.rest import RestWeeks, clock_days, in_weeks
from batches.core.stages import COVERED_STAGES, DONE_STAGES, ROUTES, Route, Stage, next_stage
from batches.core.survival import default_rate_prior
from batches.core.under_way import HORIZON
from batches.models import PlantMovement, Taxon, Tray
from batches.services import standing
from batches.services.evidence import Evidence, gather
from batches.services.stage_times import (
    estimates_for,
    intervals_by_stage,
    windows_of,
)
from batches.services.survival_rates import survival_rates
from batches.services.trays_on_day import standing_trays

SEED = 20_261_125
#: a pool of fewer past yields is filled up from the genus, then from all ferns
ENOUGH_YIELDS = 5
#: plants a mat gives where nobody here has picked one yet; common practice, no source
USUAL_YIELDS = (20, 40, 60, 80, 120)


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """On what a fern's forecast rests, in words for the page."""

    trays: int
    yields_from: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NurseryForecast:
    """Forecasts by fern, with the days they are for and what they rest on."""

    on: date
    weeks: int
    ferns: dict[Taxon, FernForecast]
    bases: dict[Taxon, Basis]

    def last_day(self, week: int) -> date:
        """Return the last day of a week (1-based)."""
        return self.on + timedelta(days=7 * week)


class Raising:
    """What is known of raising ferns here by a day: models by fern and route, built on demand."""

    def __init__(self, *, on: date, draws: int, seed: int) -> None:
        self.on, self._count = on, draws + draws % 2
        self._rng = np.random.default_rng(seed)
        self.rows = intervals_by_stage(on=on)
        self.taxa = {fern.pk: fern for fern in Taxon.objects.all()}
        chains = {
            (pk, route, stage)
            for pk in self.taxa
            for route in Route
            for stage in ROUTES[route]
            if next_stage(route, stage) is not None
        }
        self._windows = windows_of(self.taxa, chains)
        self._estimates = estimates_for(
            list(self.rows), rows=self.rows, taxa=self.taxa, windows=self._windows
        )
        self._rates = {
            (row.taxon.pk, row.from_stage): row.estimate for row in survival_rates(on=on)
        }
        self._yields = _yields(on)
        self._per_pot = _plants_per_pot(on)
        self._lost = _lost_as_a_whole(on)
        self._models: dict[tuple[int, Route], FernModel] = {}

    def model(self, taxon: Taxon, route: Route) -> FernModel:
        """Return the model of a fern raised that way."""
        key = (taxon.pk, route)
        if key not in self._models:
            lost, days = self._lost.get(taxon.pk, (0, 0.0))
            self._models[key] = FernModel(
                key=f"{taxon.code} raised from {route}",
                route=route,
                stages={stage: self._draws(taxon, route, stage) for stage in _chain(route)},
                rates={stage: self._rate(taxon, stage) for stage in _counted(route)},
                yields=self.yields(taxon)[0],
                plants_per_pot=self._per_pot.get(taxon.pk, 1.0),
                losses=lost,
                tray_days=days,
                awake=awake_days(self.on, taxon.rest_weeks),
            )
        return self._models[key]

    def yields(self, taxon: Taxon) -> tuple[tuple[int, ...], str]:
        """Return past yields of a mat, pooled while there are few, and whose they are in words."""
        own = self._yields.get(taxon.pk, [])
        if len(own) >= ENOUGH_YIELDS:
            return tuple(own), f"{len(own)} mats of this fern"
        genus = [
            plants
            for pk, some in self._yields.items()
            if pk in self.taxa and self.taxa[pk].genus == taxon.genus
            for plants in some
        ]
        if len(genus) >= ENOUGH_YIELDS:
            return tuple(genus), f"{len(genus)} mats of the genus"
        everyone = [plants for some in self._yields.values() for plants in some]
        if everyone:
            return tuple(everyone), f"{len(everyone)} mats of all ferns"
        return USUAL_YIELDS, "usual yields, none of this nursery yet"

    def _estimate(self, taxon: Taxon, route: Route, stage: Stage) -> StageEstimate:
        key = (taxon.pk, route, stage)
        if key not in self._estimates:
            self._estimates[key] = estimate_stage([], window=self._windows[key])
        return self._estimates[key]

    def _draws(self, taxon: Taxon, route: Route, stage: Stage) -> Draws:
        drawn = self._estimate(taxon, route, stage).draws(self._count)
        # The draws of every fit come in one order: mixed, one stage's error is not the next one's.
        mixed = self._rng.permutation(drawn.mu.size)
        return Draws(mu=drawn.mu[mixed], sigma=drawn.sigma[mixed], stalled=drawn.stalled[mixed])

    def _rate(self, taxon: Taxon, stage: Stage) -> Rate:
        found = self._rates.get((taxon.pk, stage))
        if found is None:
            prior = default_rate_prior(stage)
            return Rate(mean=prior.mean, plants=prior.strength)
        return Rate(mean=found.expected_rate, plants=found.effective_plants + 4.0)


def forecast_nursery(
    *, on: date, weeks: int, draws: int = DRAWS, seed: int = SEED
) -> NurseryForecast:
    """Return what becomes ready in the weeks after a day, for every fern with standing trays."""
    raising = Raising(on=on, draws=draws, seed=seed)
    trays = trays_now(on=on)
    pairs: defaultdict[Taxon, list[tuple[FernModel, list[TrayNow]]]] = defaultdict(list)
    counts: defaultdict[Taxon, int] = defaultdict(int)
    for (pk, route), some in trays.items():
        taxon = raising.taxa[pk]
        pairs[taxon].append((raising.model(taxon, route), some))
        counts[taxon] += len(some)
    drawn = forecast(
        {taxon.code: pairs[taxon] for taxon in pairs}, weeks=weeks, seed=seed, draws=draws
    )
    ferns = sorted(pairs, key=lambda taxon: taxon.code)
    return NurseryForecast(
        on=on,
        weeks=weeks,
        ferns={taxon: drawn[taxon.code] for taxon in ferns},
        bases={
            taxon: Basis(trays=counts[taxon], yields_from=raising.yields(taxon)[1])
            for taxon in ferns
        },
    )


def trays_now(*, on: date) -> dict[tuple[int, Route], list[TrayNow]]:
    """Return where every tray that is not ready stands at the end of a day, by fern and route."""
    ids = standing_trays(on=on)
    evidence = gather(ids, until=on, in_brief=True)
    starts = standing.starts_of(evidence)
    given = _given(ids, on)
    found: defaultdict[tuple[int, Route], list[TrayNow]] = defaultdict(list)
    for pk in sorted(ids):
        one = evidence[pk]
        if one.tray.control:
            continue
        now = _now(one, starts[pk], on=on, given=given.get(pk, 0))
        if now is not None:
            found[one.tray.batch.taxon_id, one.tray.route].append(now)
    return dict(found)


def _now(one: Evidence, start: Standing, *, on: date, given: int) -> TrayNow | None:
    tray = one.tray
    here = standing.here_of(one, start)
    ahead = next_stage(tray.route, here.stage)
    if ahead is None:
        return None
    rest = stage_rest(here.stage, tray.batch.taxon.rest_weeks)
    known = on if ahead in DONE_STAGES else (one.last_close_look_on or tray.started_on)
    book = balance(one.postings)
    come_back = tray.come_back_on if given else None
    counted = book.counted and tray.unit != "patches"
    return TrayNow(
        stage=here.stage,
        age=clock_days(here.origin, known, rest) - here.origin_half_day,
        age_now=clock_days(here.origin, on, rest) - here.origin_half_day,
        plants=book.alive if counted else None,
        picked=given,
        still_giving=come_back is not None,
        next_in=None if come_back is None else float(max((come_back - on).days, 0)),
        size=size_key(tray.pot_size),
    )


def awake_days(on: date, rest: RestWeeks) -> np.ndarray | None:
    """Return, for each day after a day, whether the fern is awake; None without a rest."""
    if rest is None:
        return None
    days = (on + timedelta(days=ahead) for ahead in range(HORIZON))
    return np.fromiter((not in_weeks(day, rest) for day in days), dtype=bool, count=HORIZON)


def _chain(route: Route) -> list[Stage]:
    return [stage for stage in ROUTES[route] if next_stage(route, stage) is not None]


def _counted(route: Route) -> list[Stage]:
    """Return the stages whose plants are counted here: from pricked out on, or divided."""
    first = Stage.DIVIDED if route is Route.DIVISION else Stage.PRICKED_OUT
    chain = _chain(route)
    return chain[chain.index(first) :]


def _given(ids: Iterable[int], on: date) -> dict[int, int]:
    """Return plants that each mat gave to cell trays so far."""
    rows = (
        PlantMovement.objects.standing()
        .filter(tray__in=list(ids), kind="out", to_tray__start_stage="pricked_out", on__lte=on)
        .values_list("tray_id", "quantity", "arrived")
    )
    given: defaultdict[int, int] = defaultdict(int)
    for tray, quantity, arrived in rows:
        given[tray] += quantity if arrived is None else arrived
    return dict(given)


def _yields(on: date) -> dict[int, list[int]]:
    """Return what each picked mat gave in all, by fern; a mat still giving is left out."""
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="out", to_tray__start_stage="pricked_out", on__lte=on)
        .exclude(tray__start_stage="pricked_out")
        .values_list(
            "tray_id", "tray__batch__taxon", "tray__come_back_on", "tray__ended_on", "quantity",
            "arrived",
        )
    )  # fmt: skip
    sums: defaultdict[tuple[int, int], int] = defaultdict(int)
    for tray, taxon, come_back, ended, quantity, arrived in rows:
        if come_back is not None and (ended is None or ended > on):
            continue
        sums[taxon, tray] += quantity if arrived is None else arrived
    found: defaultdict[int, list[int]] = defaultdict(list)
    for (taxon, _), plants in sorted(sums.items()):
        found[taxon].append(plants)
    return dict(found)


def _plants_per_pot(on: date) -> dict[int, float]:
    """Return how many plants went into a pot, by fern; 1 where nothing else was noted."""
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="out", to_tray__start_stage="potted_up", tray__unit="plants", on__lte=on)
        .values_list("tray__batch__taxon", "quantity", "arrived")
    )
    left: defaultdict[int, int] = defaultdict(int)
    pots: defaultdict[int, int] = defaultdict(int)
    for taxon, quantity, arrived in rows:
        left[taxon] += quantity
        pots[taxon] += quantity if arrived is None else arrived
    return {taxon: max(left[taxon] / pots[taxon], 1.0) for taxon in left if pots[taxon]}


def _lost_as_a_whole(on: date) -> Mapping[int, tuple[int, float]]:
    """Return covered trays lost before any picking, and tray-days under cover, by fern."""
    covered = [str(stage) for stage in COVERED_STAGES]
    rows = Tray.objects.filter(start_stage__in=covered, started_on__lte=on, control=False)
    lost: defaultdict[int, int] = defaultdict(int)
    days: defaultdict[int, float] = defaultdict(float)
    for taxon, started, ended, end, cause, picked in rows.values_list(
        "batch__taxon", "started_on", "ended_on", "end", "end_cause", "first_picked_on"
    ):
        last = min(day for day in (ended or on, picked or on, on))
        days[taxon] += max((last - started).days, 0)
        gone = end == "discarded" and ended is not None and ended <= on and picked is None
        if gone and cause not in {"surplus", "no_germination"}:
            lost[taxon] += 1
    return {taxon: (lost[taxon], days[taxon]) for taxon in days}
