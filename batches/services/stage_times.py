"""How long do this nursery's ferns take from stage to stage, by what was seen until a day?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from batches.core.durations import StageEstimate, estimate_stage
from batches.core.history import Standing, effective
from batches.core.intervals import StageInterval
from batches.core.sojourns import TrayPast, sojourns
from batches.core.stage_prior import FernEvidence, fern_evidence, prior_from_relatives
from batches.core.stages import Route, Stage, Window, default_window, next_stage
from batches.models import OwnWindow, Taxon, Tray
from batches.services import standing
from batches.services.evidence import Evidence, gather
from batches.services.proved_passages import proved

_TRAYS_AT_ONCE = 3_000

#: fern, what it is raised from, the stage it leaves
Key = tuple[int, Route, Stage]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageTimes:
    """One fern's times from one stage to the next, with what they were estimated from."""

    taxon: Taxon
    route: Route
    stage: Stage
    next_stage: Stage
    window: Window
    estimate: StageEstimate
    rows: tuple[StageInterval, ...]


def stage_times(*, on: date, taxon: Taxon | None = None) -> tuple[StageTimes, ...]:
    """Return the times of every fern, route and stage with at least one tray by that day.

    Parameters
    ----------
    taxon : Taxon, optional
        Only this fern is answered; its relatives still lend their evidence.
    """
    rows = intervals_by_stage(on=on)
    taxa = {fern.pk: fern for fern in Taxon.objects.filter(pk__in={key[0] for key in rows})}
    windows = windows_of(taxa, rows)
    wanted = [key for key in rows if taxon is None or key[0] == taxon.pk]
    estimates = estimates_for(wanted, rows=rows, taxa=taxa, windows=windows)
    order = {stage: place for place, stage in enumerate(Stage)}
    return tuple(
        StageTimes(
            taxon=taxa[key[0]],
            route=key[1],
            stage=key[2],
            next_stage=_next(key),
            window=windows[key],
            estimate=estimates[key],
            rows=tuple(rows[key]),
        )
        for key in sorted(wanted, key=lambda key: (taxa[key[0]].code, key[1], order[key[2]]))
    )


def intervals_by_stage(
    *, on: date, taxon_ids: Iterable[int] | None = None
) -> dict[Key, list[StageInterval]]:
    """Return the rows behind the estimates, by fern, route and stage; control trays have none.

    Trays never leave their fern, so that a few ferns are read at a time and little is held.
    """
    trays = Tray.objects.filter(started_on__lte=on, control=False)
    if taxon_ids is not None:
        trays = trays.filter(batch__taxon__in=list(taxon_ids))
    by_fern: defaultdict[int, list[int]] = defaultdict(list)
    for pk, fern in trays.values_list("pk", "batch__taxon").order_by("batch__taxon", "pk"):
        by_fern[fern].append(pk)
    found: defaultdict[Key, list[StageInterval]] = defaultdict(list)
    some: list[int] = []
    for fern in list(by_fern):
        some += by_fern.pop(fern)
        if len(some) >= _TRAYS_AT_ONCE or not by_fern:
            _add_rows(found, some, on=on)
            some = []
    return dict(found)


def intervals_by_origin(*, on: date, taxon: Taxon) -> dict[Key, dict[str, list[StageInterval]]]:
    """Return one fern's rows apart by the code of the origin its trays came from.

    Trays whose origin is not known stand under "".
    """
    trays = Tray.objects.filter(started_on__lte=on, control=False, batch__taxon=taxon)
    by_origin: defaultdict[str, list[int]] = defaultdict(list)
    for pk, lots, own in trays.values_list(
        "pk", "batch__spore_lot__source__code", "batch__source__code"
    ).order_by("pk"):
        by_origin[lots or own or ""].append(pk)
    found: defaultdict[Key, dict[str, list[StageInterval]]] = defaultdict(dict)
    for origin, ids in sorted(by_origin.items()):
        rows: defaultdict[Key, list[StageInterval]] = defaultdict(list)
        _add_rows(rows, ids, on=on)
        for key, some in rows.items():
            found[key][origin] = some
    return dict(found)


def _add_rows(
    found: defaultdict[Key, list[StageInterval]], tray_ids: list[int], *, on: date
) -> None:
    evidence = gather(tray_ids, until=on, in_brief=True)
    starts = standing.starts_of(evidence)
    handed_on = _handed_on(evidence, on)
    for pk in tray_ids:
        one = evidence[pk]
        past = _past(one, starts[pk], on=on, handed_on=pk in handed_on)
        for row in sojourns(past, on=on):
            found[one.tray.batch.taxon_id, past.route, row.stage].append(row.interval)


def estimates_for(
    keys: Iterable[Key],
    *,
    rows: Mapping[Key, list[StageInterval]],
    taxa: Mapping[int, Taxon],
    windows: Mapping[Key, Window],
) -> dict[Key, StageEstimate]:
    """Return the estimates of some ferns, each leaning on its genus, its route or its window."""
    spoken: dict[Key, FernEvidence | None] = {}

    def evidence_of(key: Key) -> FernEvidence | None:
        if key not in spoken:
            spoken[key] = fern_evidence(rows[key], windows[key])
        return spoken[key]

    found = {}
    for key in keys:
        relatives = [
            other
            for other in rows
            if other[1:] == key[1:] and other[0] != key[0] and windows[other] == windows[key]
        ]
        genus = taxa[key[0]].genus
        own_genus = [other for other in relatives if taxa[other[0]].genus == genus]
        prior = prior_from_relatives(
            windows[key],
            genus=[e for e in map(evidence_of, own_genus) if e is not None],
            route=[e for e in map(evidence_of, relatives) if e is not None],
        )
        found[key] = estimate_stage(rows.get(key, []), window=windows[key], prior=prior)
    return found


def _past(one: Evidence, start: Standing, *, on: date, handed_on: bool) -> TrayPast:
    tray = one.tray
    moves = [row.passage for row in one.stated]
    if not one.brief and (not moves or any(not row.derived for row in one.stated)):
        # Evidence cut off in the past may lack rows that were derived later: prove them anew.
        moves += proved(one)
    ended = tray.ended_on if tray.ended_on is not None and tray.ended_on <= on else None
    return TrayPast(
        route=tray.route,
        start=start,
        passages=effective(moves, route=tray.route),
        last_look_on=one.last_close_look_on,
        rest=tray.batch.taxon.rest_weeks,
        ended_on=ended,
        end=tray.end if ended else "",
        end_cause=tray.end_cause if ended else "",
        handed_on=handed_on,
        picked_into=one.picked_into,
    )


def _handed_on(evidence: Mapping[int, Evidence], on: date) -> set[int]:
    """Return cleared trays whose plants went on in the same stage, under an inherited clock."""
    passed_on = {
        parent
        for one in evidence.values()
        for parent in one.parent_ids
        if parent in evidence and one.tray.start_stage == evidence[parent].tray.stage
    }
    return {
        pk
        for pk in passed_on
        if evidence[pk].tray.end == "cleared"
        and evidence[pk].tray.ended_on is not None
        and (evidence[pk].tray.ended_on or on) <= on
        and not evidence[pk].pickings
    }


def windows_of(taxa: Mapping[int, Taxon], keys: Iterable[Key]) -> dict[Key, Window]:
    """Return the window of each key: the fern's own, else the default of its kind; one query."""
    own = {(row.taxon_id, row.route, row.stage): row for row in OwnWindow.objects.all()}
    found = {}
    for key in keys:
        row = own.get((key[0], str(key[1]), str(key[2])))
        if row is not None:
            found[key] = Window(early=row.early, usual=row.usual, late=row.late)
            continue
        window = default_window(key[1], key[2], taxa[key[0]].kind)
        if window is not None:
            found[key] = window
    return found


def _next(key: Key) -> Stage:
    ahead = next_stage(key[1], key[2])
    if ahead is None:
        raise AssertionError(f"{key[2]} has no next stage on {key[1]}")
    return ahead
