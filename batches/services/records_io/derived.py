"""What follows from the rows of an import without standing in them?

A first count from a tray's quantity, a first place from its bench, a parent from an out, and for
each passage the stage it came from and whether Frondbook itself had derived it.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from typing import Any
from uuid import UUID

from batches.core.history import Passage
from batches.core.stages import Stage
from batches.models import StageTransition
from batches.services import standing
from batches.services.records_io.columns import MOVEMENTS, PLACES, TRANSITIONS, TRAYS
from batches.services.records_io.kinds import RecordsFile
from batches.services.records_io.sifting import given_id
from batches.services.records_io.stored import CHUNK
from batches.services.records_io.world import Check

_STAGE_RANK = {str(stage): rank for rank, stage in enumerate(Stage)}


def _row(file: RecordsFile, line: int, **values: Any) -> Any:
    cells = dict.fromkeys(file.by_name)
    return file.row_type(**(cells | values), line=line, sound=True)


def add_parents(check: Check) -> None:
    """Note that a tray which plants moved into was filled from the tray they left."""
    rows = check.of(MOVEMENTS)
    struck = {row.strikes_out for row in rows}
    for row in rows:
        if row.to_tray is None or row.strikes_out is not None or row.id in struck:
            continue
        tray, child = check.world.tray(row.tray), check.world.tray(row.to_tray)
        if tray is not None and child is not None and row.tray != row.to_tray:
            check.fresh.parentage.add((row.tray, row.to_tray))


def add_first_counts(check: Check, unmoved: set[str], *, by: str) -> None:
    """Give a tray without movements its quantity as its `in`, on the day it started."""
    for row in check.of(TRAYS):
        if row.code in unmoved and row.quantity:
            check.fresh.rows[MOVEMENTS.name].append(
                _row(
                    MOVEMENTS,
                    row.line,
                    id=given_id("first count", row.code),
                    tray=row.code,
                    on=row.started_on,
                    kind="in",
                    quantity=row.quantity,
                    by=by or None,
                )
            )


def add_first_places(check: Check, *, by: str) -> None:
    """Let a new tray with a bench and no row of places stand there from the day it started.

    Without such a row its first bench would be forgotten when it is moved.
    """
    rows = check.of(PLACES)
    struck = {row.strikes_out for row in rows}
    placed = {row.tray for row in rows if row.strikes_out is None and row.id not in struck}
    for row in check.of(TRAYS):
        if row.bench is not None and row.code not in placed:
            check.fresh.rows[PLACES.name].append(
                _row(
                    PLACES,
                    row.line,
                    id=given_id("first place", row.code),
                    tray=row.code,
                    on=row.started_on,
                    bench=row.bench,
                    row=row.row,
                    column=row.column,
                    by=by or None,
                )
            )


# Passages


def passages_told(check: Check) -> dict[UUID, tuple[str, bool]]:
    """Return, by the id of each new passage, the stage it came from and whether it was derived.

    The stage comes from the passages before it; a derived row says its own by its id.
    """
    rows = check.of(TRANSITIONS)
    struck = {row.strikes_out for row in rows if row.strikes_out is not None}
    chains: defaultdict[str, list[tuple[Any, ...]]] = defaultdict(list)
    for row in rows:
        if row.strikes_out is None:
            place = (row.seen_on, _STAGE_RANK[row.to_stage], str(row.id))
            chains[row.tray].append((*place, row, row.id not in struck))
    stored = check.world.stored[TRAYS.name]
    _add_stored(chains, [code for code in chains if code in stored], struck)
    told: dict[UUID, tuple[str, bool]] = {}
    alike = Counter(_likeness(row) for row in rows)
    for code, chain in chains.items():
        tray = check.world.tray(code)
        stage = (tray.start_stage if tray is not None else None) or ""
        for _, rank, _, row, stands in sorted(chain, key=lambda link: link[:3]):
            if row is not None:
                told[row.id] = _told(check, row, stage, alike[_likeness(row)])
            if stands:
                stage = row.to_stage if row is not None else str(list(Stage)[rank])
    _tell_strikes(rows, told)
    return told


def _likeness(row: Any) -> tuple[Any, ...]:
    return row.tray, row.to_stage, row.not_before, row.seen_on


def _add_stored(
    chains: defaultdict[str, list[tuple[Any, ...]]], codes: list[str], struck: set[UUID]
) -> None:
    for start in range(0, len(codes), CHUNK):
        query = StageTransition.objects.standing().filter(
            tray__code__in=codes[start : start + CHUNK]
        )
        for row_id, code, to_stage, seen_on in query.values_list(
            "id", "tray__code", "to_stage", "seen_on"
        ):
            place = (seen_on, _STAGE_RANK[to_stage], str(row_id))
            chains[code].append((*place, None, row_id not in struck))


def _told(check: Check, row: Any, stage: str, alike: int) -> tuple[str, bool]:
    if row.id.version != 5 or row.by is not None:
        return stage, False
    others = sorted(check.world.stages_of_tray(row.tray) - {stage})
    for from_stage in (stage, *others):
        passage = Passage(
            from_stage=Stage(from_stage),
            to_stage=Stage(row.to_stage),
            not_before=row.not_before,
            seen_on=row.seen_on,
        )
        # The same passage may have been derived, struck out and derived again.
        if any(standing.derived_id(row.tray, passage, n) == row.id for n in range(alike)):
            return from_stage, True
    return stage, False


def _tell_strikes(rows: list[Any], told: dict[UUID, tuple[str, bool]]) -> None:
    """Copy for a strike-out the stage of the row it strikes; one of a derived row is derived."""
    strikes = [row for row in rows if row.strikes_out is not None]
    missing = [row.strikes_out for row in strikes if row.strikes_out not in told]
    held: dict[UUID, tuple[str, bool]] = {}
    for start in range(0, len(missing), CHUNK):
        query = StageTransition.objects.filter(id__in=missing[start : start + CHUNK])
        for row_id, from_stage, derived in query.values_list("id", "from_stage", "derived"):
            held[row_id] = from_stage, derived
    for row in strikes:
        from_stage, derived = told.get(row.strikes_out) or held[row.strikes_out]
        told[row.id] = from_stage, derived and row.id.version == 5 and row.by is None
