"""From which stage did each passage come, and had Frondbook itself derived it?

The records do not say, for people need not know. It follows: a derived row says it by its id, a
correction goes back from where the tray was, every other passage comes from the stage before.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from datetime import date
from enum import IntEnum
from typing import Any, NamedTuple
from uuid import UUID

from batches.core.history import Passage
from batches.core.stages import ROUTES, Route, Stage, is_ahead, on_route
from batches.models import StageTransition, TrayCheck
from batches.services.days import local_day
from batches.services.proved_passages import derived_id
from batches.services.records_io.columns import CHECKS, TRANSITIONS, TRAYS
from batches.services.records_io.stored import CHUNK
from batches.services.records_io.world import Check
from batches.services.stage_claims import correction_id

Told = dict[UUID, tuple[str, bool]]


class _Kind(IntEnum):
    DERIVED = 0
    STATED = 1
    LOOK = 2
    CORRECTION = 3


class _Event(NamedTuple):
    """Something that says a tray's stage on a day; ``row`` is the new passage, None for others."""

    on: date
    kind: _Kind
    to_stage: Stage
    from_stage: Stage | None
    row: Any
    stands: bool


def passages_told(check: Check) -> Told:
    """Return the stage it came from and whether it was derived, by the id of each new passage."""
    rows = check.of(TRANSITIONS)
    if not rows:
        return {}
    struck = {row.strikes_out for row in rows if row.strikes_out is not None}
    trays = {row.tray for row in rows}
    events = _seen(check, trays)
    corrections = {correction_id(look_id) for looks in events.values() for _, look_id in looks}
    chains: defaultdict[str, list[_Event]] = defaultdict(list)
    for code, looks in events.items():
        chains[code] += [event for event, _ in looks]
    alike = Counter(_likeness(row) for row in rows)
    for row in rows:
        if row.strikes_out is None:
            event = _event(check, row, alike[_likeness(row)], corrections)
            chains[row.tray].append(event._replace(stands=row.id not in struck))
    for code, event in _stored_passages(check, trays, struck):
        chains[code].append(event)
    told: Told = {}
    for code, chain in chains.items():
        _follow(check, code, chain, told)
    _tell_strikes(rows, told)
    return told


def _likeness(row: Any) -> tuple[Any, ...]:
    return row.tray, row.to_stage, row.not_before, row.seen_on


def _event(check: Check, row: Any, alike: int, corrections: set[UUID]) -> _Event:
    to_stage = Stage(row.to_stage)
    derived_from = _derived_from(check, row, alike)
    if derived_from is not None:
        kind = _Kind.DERIVED
    elif row.id in corrections:
        kind = _Kind.CORRECTION
    else:
        kind = _Kind.STATED
    return _Event(row.seen_on, kind, to_stage, derived_from, row, stands=True)


def _derived_from(check: Check, row: Any, alike: int) -> Stage | None:
    """Return the stage by which the row's id was made; None where somebody stated the row.

    The same passage may have been derived, struck out and derived again: ``alike`` times at most.
    """
    if row.id.version != 5 or row.by is not None:
        return None
    for stage in sorted(check.world.stages_of_tray(row.tray)):
        passage = Passage(
            from_stage=Stage(stage),
            to_stage=Stage(row.to_stage),
            not_before=row.not_before,
            seen_on=row.seen_on,
        )
        if any(derived_id(row.tray, passage, n) == row.id for n in range(alike)):
            return Stage(stage)
    return None


# What else says where a tray was


def _seen(check: Check, trays: set[str]) -> dict[str, list[tuple[_Event, UUID]]]:
    """Return what standing looks at the trays saw, with the looks' ids; glances prove nothing."""
    rows = check.of(CHECKS)
    struck = {row.strikes_out for row in rows if row.strikes_out is not None}
    found: dict[str, list[tuple[_Event, UUID]]] = {code: [] for code in trays}
    for row in rows:
        if row.stage_seen is not None and row.tray in trays and row.strikes_out is None:
            found[row.tray].append(
                (_look(row.seen_at, row.stage_seen, row.id not in struck), row.id)
            )
    for codes in _stored(check, trays):
        looks = TrayCheck.objects.filter(
            tray__code__in=codes, stage_seen__gt="", strikes_out=None
        ).values_list("id", "tray__code", "seen_at", "stage_seen", "struck_by__id")
        for look_id, code, seen_at, stage, struck_by in looks:
            stands = struck_by is None and look_id not in struck
            found[code].append((_look(seen_at, stage, stands), look_id))
    return found


def _look(seen_at: Any, stage: str, stands: bool) -> _Event:  # noqa: FBT001
    return _Event(local_day(seen_at), _Kind.LOOK, Stage(stage), None, None, stands)


def _stored_passages(
    check: Check, trays: set[str], struck: set[UUID]
) -> Iterable[tuple[str, _Event]]:
    for codes in _stored(check, trays):
        query = StageTransition.objects.standing().filter(tray__code__in=codes)
        for row_id, code, from_stage, to_stage, seen_on, derived in query.values_list(
            "id", "tray__code", "from_stage", "to_stage", "seen_on", "derived"
        ):
            kind = _Kind.DERIVED if derived else _Kind.STATED
            event = _Event(
                seen_on, kind, Stage(to_stage), Stage(from_stage), None, row_id not in struck
            )
            yield code, event


def _stored(check: Check, trays: set[str]) -> Iterable[list[str]]:
    held = check.world.stored[TRAYS.name]
    codes = sorted(code for code in trays if code in held)
    for start in range(0, len(codes), CHUNK):
        yield codes[start : start + CHUNK]


# Following a tray through its days


def _follow(check: Check, code: str, chain: list[_Event], told: Told) -> None:
    tray = check.world.tray(code)
    batch = check.world.batch(tray.batch) if tray is not None else None
    if tray is None or batch is None or tray.start_stage is None or batch.route is None:
        return
    route, here = Route(batch.route), Stage(tray.start_stage)
    days: defaultdict[date, list[_Event]] = defaultdict(list)
    for event in chain:
        days[event.on].append(event)
    for day in sorted(days):
        left = days[day]
        while left:
            event = min(left, key=lambda event: _turn(route, here, event))
            left.remove(event)
            if event.row is not None:
                derived = event.kind is _Kind.DERIVED
                told[event.row.id] = str(event.from_stage or _before(route, here, event)), derived
            if event.stands and (event.kind is not _Kind.LOOK or _ahead(route, event, here)):
                here = event.to_stage


def _turn(route: Route, here: Stage, event: _Event) -> tuple[int, int, str]:
    """Order what is said of one day: passages on from here, then looks, then going back."""
    forward = _ahead(route, event, here)
    if event.kind is _Kind.DERIVED and event.from_stage is here:
        turn = 0
    elif event.kind is _Kind.STATED and forward:
        turn = 1
    else:
        turn = {_Kind.LOOK: 2, _Kind.DERIVED: 3, _Kind.STATED: 4, _Kind.CORRECTION: 5}[event.kind]
    row_id = str(event.row.id) if event.row is not None else ""
    return (
        turn,
        ROUTES[route].index(event.to_stage) if on_route(route, event.to_stage) else 0,
        row_id,
    )


def _ahead(route: Route, event: _Event, here: Stage) -> bool:
    known = on_route(route, event.to_stage) and on_route(route, here)
    return known and is_ahead(route, event.to_stage, here)


def _before(route: Route, here: Stage, event: _Event) -> Stage:
    """Return the stage before, for a passage on; where the tray was, for one that goes back."""
    if event.kind is _Kind.CORRECTION or not _ahead(route, event, here):
        return here
    stages = ROUTES[route]
    return stages[stages.index(event.to_stage) - 1]


def _tell_strikes(rows: list[Any], told: Told) -> None:
    """Copy for a strike-out the stage of the row it strikes; one of a derived row is derived."""
    strikes = [row for row in rows if row.strikes_out is not None]
    missing = [row.strikes_out for row in strikes if row.strikes_out not in told]
    held: Told = {}
    for start in range(0, len(missing), CHUNK):
        query = StageTransition.objects.filter(id__in=missing[start : start + CHUNK])
        for row_id, from_stage, derived in query.values_list("id", "from_stage", "derived"):
            held[row_id] = from_stage, derived
    for row in strikes:
        from_stage, derived = told.get(row.strikes_out) or held[row.strikes_out]
        told[row.id] = from_stage, derived and row.id.version == 5 and row.by is None
