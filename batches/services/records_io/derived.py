"""What follows from the rows of an import without standing in them?

A first count from a tray's quantity, a first place from its bench, a parent from an out.
"""

from __future__ import annotations

from typing import Any

from batches.services.records_io.columns import MOVEMENTS, PLACES, TRAYS
from batches.services.records_io.kinds import RecordsFile
from batches.services.records_io.sifting import given_id
from batches.services.records_io.world import Check


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
