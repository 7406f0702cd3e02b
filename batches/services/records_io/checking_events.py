"""Do the rows of looks, passages, movements and places make sense?"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any, NamedTuple
from uuid import UUID

from batches.services.days import local_day
from batches.services.records_io.checking_things import check_place
from batches.services.records_io.checking_trays import other_batch
from batches.services.records_io.columns import (
    CHECKS,
    EVENTS,
    MOVEMENTS,
    PLACES,
    TRANSITIONS,
    TRAYS,
)
from batches.services.records_io.faults import shown
from batches.services.records_io.kinds import RecordsFile
from batches.services.records_io.stored import CHUNK
from batches.services.records_io.world import Check, TrayFact

_ONE_DAY = 1


class _Struck(NamedTuple):
    """What a strike-out asks of the row it names."""

    tray: str | None
    is_strike: bool
    struck_by: str


def check_events(check: Check) -> None:
    """Check all new rows of the files of events, and which trays they touch."""
    for file in EVENTS:
        _check_strikes(check, file)
    _check_looks(check)
    _check_passages(check)
    for row in check.of(MOVEMENTS):
        _check_movement(check, row)
    for row in check.of(PLACES):
        _after_start(check, PLACES, row, "on", row.on)
        check_place(check, PLACES, row, within=False)
    stored = check.world.stored[TRAYS.name]
    for file in EVENTS:
        check.fresh.touched |= {row.tray for row in check.of(file) if row.tray in stored}
    check.fresh.touched |= {
        row.to_tray for row in check.of(MOVEMENTS) if row.to_tray in stored
    }  # fmt: skip


def _after_start(check: Check, file: RecordsFile, row: Any, column: str, day: date | None) -> None:
    tray = check.world.tray(row.tray)
    if tray is None or tray.started_on is None or day is None or day >= tray.started_on:
        return
    check.fault(
        file, row, column,
        f"{day} is before tray {row.tray} was started, {tray.started_on}: correct the day, or "
        "the tray's started_on.",
    )  # fmt: skip


def _check_looks(check: Check) -> None:
    trays = check.world.facts[TRAYS.name]
    stages: dict[str, frozenset[str]] = {}
    for row in check.of(CHECKS):
        tray: TrayFact | None = trays.get(row.tray)
        if tray is None:
            continue
        # The day by the cell's own offset is at most one off the nursery's: mostly that settles it.
        started = tray.started_on
        if started is not None and row.seen_at.toordinal() - started.toordinal() <= _ONE_DAY:
            _after_start(check, CHECKS, row, "seen_at", local_day(row.seen_at))
        if row.stage_seen is not None:
            if row.tray not in stages:
                stages[row.tray] = check.world.stages_of_tray(row.tray)
            _on_route(check, CHECKS, row, "stage_seen", stages[row.tray])
        if row.about and row.count is None:
            check.fault(CHECKS, row, "about", "about says that a count is a guess: give the count.")
        if row.glance and (row.stage_seen is not None or row.count is not None):
            column = "stage_seen" if row.stage_seen is not None else "count"
            check.fault(
                CHECKS, row, column,
                "a glance proves no stage and counts nothing: empty this cell, or glance.",
            )  # fmt: skip


def _on_route(
    check: Check, file: RecordsFile, row: Any, column: str, stages: frozenset[str]
) -> None:
    stage = getattr(row, column)
    if stages and stage not in stages:
        check.fault(
            file, row, column,
            f"{stage} is no stage of tray {row.tray}'s route: {', '.join(sorted(stages))}.",
        )  # fmt: skip


def _check_passages(check: Check) -> None:
    for row in check.of(TRANSITIONS):
        _on_route(check, TRANSITIONS, row, "to_stage", check.world.stages_of_tray(row.tray))
        _after_start(check, TRANSITIONS, row, "seen_on", row.seen_on)
        if row.not_before is not None and row.not_before > row.seen_on:
            check.fault(
                TRANSITIONS, row, "not_before",
                f"{row.not_before} is after seen_on, {row.seen_on}: it is the last look without "
                "the stage.",
            )  # fmt: skip


def _check_movement(check: Check, row: Any) -> None:
    _after_start(check, MOVEMENTS, row, "on", row.on)
    if row.quantity == 0 or (row.quantity < 0 and row.kind != "recount"):
        check.fault(
            MOVEMENTS, row, "quantity",
            f"{row.quantity} is not possible: a recount is the difference found, above or below "
            "nothing; all others are 1 or more.",
        )  # fmt: skip
        check.fresh.doubtful |= {row.tray, row.to_tray}
    for column, kind in (("to_tray", "out"), ("recipient", "dispatch"), ("order", "dispatch")):
        if getattr(row, column) is not None and row.kind != kind:
            check.fault(
                MOVEMENTS, row, column,
                f"only a movement of kind {kind} has this, the row is of kind {row.kind}.",
            )  # fmt: skip
    if row.arrived is not None and row.to_tray is None:
        check.fault(MOVEMENTS, row, "arrived", "nothing arrives without to_tray: name the tray.")
    tray, child = check.world.tray(row.tray), check.world.tray(row.to_tray)
    if tray is None or child is None:
        return
    if row.to_tray == row.tray:
        check.fault(MOVEMENTS, row, "to_tray", "plants cannot move from a tray into itself.")
    elif None not in (tray.batch, child.batch) and tray.batch != child.batch:
        message = other_batch(row.to_tray, child.batch, row.tray, tray.batch)
        check.fault(MOVEMENTS, row, "to_tray", message)
    if child.started_on is not None and row.on < child.started_on:
        check.fault(
            MOVEMENTS, row, "on",
            f"{row.on} is before tray {row.to_tray} was started, {child.started_on}.",
        )  # fmt: skip


# Strike-outs


def _check_strikes(check: Check, file: RecordsFile) -> None:
    rows = check.fresh.rows.get(file.name, ())
    strikes = [row for row in rows if row.strikes_out is not None and row.sound]
    if not strikes:
        return
    known = {
        row.id: _Struck(row.tray, row.strikes_out is not None, "") for row in rows if row.id
    }  # fmt: skip
    missing = {row.strikes_out for row in strikes} - known.keys()
    known |= _stored(file, missing)
    taken: dict[UUID, str] = {}
    for row in strikes:
        struck = known.get(row.strikes_out)
        message = _strike_fault(row, struck, file, taken.get(row.strikes_out, ""))
        if message:
            check.fault(file, row, "strikes_out", message)
        taken.setdefault(row.strikes_out, f"line {row.line}")


def _stored(file: RecordsFile, ids: Iterable[UUID]) -> dict[UUID, _Struck]:
    wanted = list(ids)
    found: dict[UUID, _Struck] = {}
    for start in range(0, len(wanted), CHUNK):
        query = file.model._default_manager.filter(id__in=wanted[start : start + CHUNK])
        for row_id, tray, strikes, by in query.values_list(
            "id", "tray__code", "strikes_out_id", "struck_by__id"
        ):
            found[row_id] = _Struck(tray, strikes is not None, str(by) if by else "")
    return found


def _strike_fault(row: Any, struck: _Struck | None, file: RecordsFile, before: str) -> str:
    if struck is None:
        return (
            f"no row of {file.file_name}, here or stored, has the id {row.strikes_out}: a row "
            "strikes out a row of the same file."
        )
    if row.strikes_out == row.id:
        return "a row cannot strike itself out."
    if struck.is_strike:
        return (
            f"{row.strikes_out} strikes a row out itself; that is not undone. Write what holds "
            "as a new row."
        )
    if struck.tray is not None and struck.tray != row.tray:
        return f"{row.strikes_out} is of tray {struck.tray}, this row of {shown(row.tray)}."
    if struck.struck_by or before:
        return f"{row.strikes_out} is struck out already by {before or struck.struck_by}."
    return ""
