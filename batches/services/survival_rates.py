"""How many plants come through each stage here, by what was counted until a day?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from batches.core.history import Passage, effective
from batches.core.ledger import Change
from batches.core.passing import CountedTray, Entry, Passed, passed
from batches.core.stages import DONE_STAGES, Route, Stage, is_ahead
from batches.core.survival import (
    FernRate,
    SurvivalEstimate,
    TrayPassage,
    default_rate_prior,
    estimate_survival,
    rate_prior,
)
from batches.models import Batch, Bench, PlantMovement, StageTransition, Taxon, Tray
from batches.services.shared_rows import with_shared

#: fern, what it is raised from, from stage, to stage
Pair = tuple[int, Route, Stage, Stage]
_CHUNK = 5_000


@dataclass(frozen=True, slots=True, kw_only=True)
class StageSurvival:
    """One fern's survival from one stage to the next."""

    taxon: Taxon
    from_stage: Stage
    to_stage: Stage
    estimate: SurvivalEstimate


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayPassed:
    """One tray's passage with the tray, for grouping by lot, medium, house."""

    tray: Tray
    passed: Passed


def survival_rates(*, on: date, taxon: Taxon | None = None) -> tuple[StageSurvival, ...]:
    """Return the rates of every fern and pair of stages with a counted tray that has left it.

    A fern raised in several ways has one line a pair; it leans on relatives raised as most of
    its trays were.
    """
    rows = passages_by(on=on)
    by_fern: defaultdict[tuple[int, Stage, Stage], list[TrayPassage]] = defaultdict(list)
    routes: dict[tuple[int, Stage, Stage], Route] = {}
    for (fern_id, route, start, end), passages in rows.items():
        by_fern[fern_id, start, end] += passages
        routes.setdefault((fern_id, start, end), route)
    taxa = Taxon.objects.in_bulk({key[0] for key in by_fern})
    rates = {key: _own_rate(passages, key[1]) for key, passages in by_fern.items()}
    order = {stage: place for place, stage in enumerate(Stage)}
    wanted = [key for key in by_fern if taxon is None or key[0] == taxon.pk]
    found = []
    for key in sorted(wanted, key=lambda key: (taxa[key[0]].code, order[key[1]], order[key[2]])):
        fern = taxa[key[0]]
        relatives = [
            other
            for other in by_fern
            if other[1:] == key[1:] and other[0] != key[0] and routes[other] == routes[key]
        ]
        prior = rate_prior(
            genus=[rates[o] for o in relatives if taxa[o[0]].genus == fern.genus],
            route=[rates[o] for o in relatives],
            default=default_rate_prior(key[1]),
        )
        found.append(
            StageSurvival(
                taxon=fern,
                from_stage=key[1],
                to_stage=key[2],
                estimate=estimate_survival(by_fern[key], prior=prior),
            )
        )
    return tuple(found)


def passages_by(*, on: date) -> dict[Pair, list[TrayPassage]]:
    """Return the passages behind the rates, by fern, route and pair of stages."""
    found: defaultdict[Pair, list[TrayPassage]] = defaultdict(list)
    for one in trays_passed(on=on):
        key = (
            one.tray.batch.taxon_id, one.tray.route, one.passed.from_stage, one.passed.to_stage,
        )  # fmt: skip
        found[key].append(
            TrayPassage(plants_in=one.passed.plants_in, plants_out=one.passed.plants_out)
        )
    return dict(found)


def trays_passed(*, on: date) -> Iterable[TrayPassed]:
    """Yield every passage of every counted tray by the end of a day; control trays have none."""
    ids = list(Tray.objects.filter(started_on__lte=on, control=False).values_list("pk", flat=True))
    for start in range(0, len(ids), _CHUNK):
        some = ids[start : start + _CHUNK]
        entries, picked = _entries(some, on)
        moves = _passages(some, on)
        # A tray into which nothing was ever counted has no passage to tell of.
        trays = Tray.objects.filter(pk__in=list(entries)).select_related("medium_batch")
        shared = Batch.objects.select_related("taxon", "spore_lot", "medium_batch")
        benches = Bench.objects.select_related("house")
        for tray in with_shared(trays.order_by("pk"), batch=shared, bench=benches):
            for row in passed(_counted(tray, entries, picked, moves, on)):
                yield TrayPassed(tray=tray, passed=row)


def _counted(
    tray: Tray,
    entries: Mapping[int, list[Entry]],
    picked: Mapping[int, set[Stage]],
    moves: Mapping[int, list[Passage]],
    on: date,
) -> CountedTray:
    own = [move for move in moves.get(tray.pk, []) if move.to_stage not in picked.get(tray.pk, ())]
    ended = tray.ended_on if tray.ended_on is not None and tray.ended_on <= on else None
    rows = entries.get(tray.pk, [])
    if ended is None and rows and tray.pk in picked:
        alive = sum(
            e.quantity if e.arrived_here or e.kind in (Change.IN, Change.RECOUNT) else -e.quantity
            for e in rows
        )
        ended = rows[-1].on if alive == 0 else None
    return CountedTray(
        route=tray.route,
        start_stage=Stage(tray.start_stage),
        passages=effective(own, route=tray.route),
        entries=rows,
        left_on=ended,
        surplus=ended is not None and tray.end_cause == "surplus",
    )


def _entries(ids: list[int], on: date) -> tuple[dict[int, list[Entry]], dict[int, set[Stage]]]:
    wanted = set(ids)
    entries: defaultdict[int, list[Entry]] = defaultdict(list)
    picked: defaultdict[int, set[Stage]] = defaultdict(set)
    rows = (
        PlantMovement.objects.standing()
        .filter(Q(tray__in=ids) | Q(to_tray__in=ids), on__lte=on)
        .order_by("on", "recorded_at", "id")
        .values_list(
            "tray_id", "tray__batch__route", "tray__start_stage", "to_tray_id",
            "to_tray__start_stage", "on", "kind", "quantity", "arrived",
        )
    )  # fmt: skip
    for tray, route, start, child, child_start, day, kind, quantity, arrived in rows:
        same = bool(child_start) and not _moves_on(Route(route), Stage(start), Stage(child_start))
        if tray in wanted:
            entries[tray].append(
                Entry(on=day, kind=Change(kind), quantity=quantity, same_stage=same)
            )
            if child_start and not same:
                picked[tray].add(Stage(child_start))
        if child in wanted:
            there = quantity if arrived is None else arrived
            entries[child].append(Entry(on=day, kind=Change.OUT, quantity=there, arrived_here=True))
    return dict(entries), dict(picked)


def _moves_on(route: Route, start: Stage, child_start: Stage) -> bool:
    """Tell a deed that moves plants on (pricked out, potted up) from one that changes no stage."""
    return child_start in DONE_STAGES and is_ahead(route, child_start, start)


def _passages(ids: list[int], on: date) -> dict[int, list[Passage]]:
    found: defaultdict[int, list[Passage]] = defaultdict(list)
    rows = (
        StageTransition.objects.standing()
        .filter(tray__in=ids, seen_on__lte=on)
        .order_by("seen_on", "recorded_at", "id")
        .values_list("tray_id", "from_stage", "to_stage", "not_before", "seen_on")
    )
    for tray, from_stage, to_stage, not_before, seen_on in rows:
        found[tray].append(
            Passage(
                from_stage=Stage(from_stage),
                to_stage=Stage(to_stage),
                not_before=not_before,
                seen_on=seen_on,
            )
        )
    return dict(found)


def _own_rate(passages: list[TrayPassage], from_stage: Stage) -> FernRate:
    estimate = estimate_survival(passages, prior=default_rate_prior(from_stage))
    return FernRate(rate=estimate.rate or 0.0, effective_plants=estimate.effective_plants)
