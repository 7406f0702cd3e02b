"""Do the rows of trays make sense: batch, stage, place, end, parents?"""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter
from typing import Any

from batches.services.records_io.checking_things import check_place
from batches.services.records_io.columns import MOVEMENTS, TRAYS
from batches.services.records_io.faults import shown
from batches.services.records_io.stored import parents_of
from batches.services.records_io.world import Check


def check_trays(check: Check) -> None:
    """Check every new tray, and note whom it was filled from."""
    for row in check.of(TRAYS):
        batch = check.world.batch(row.batch)
        if batch is not None and batch.route is not None:
            stages = check.world.stages_of_tray(row.code)
            if row.start_stage not in stages:
                check.fault(
                    TRAYS, row, "start_stage",
                    f"{row.start_stage} is no stage of {shown(row.batch)}, which is raised by "
                    f"{batch.route}: {', '.join(sorted(stages))}.",
                )  # fmt: skip
        if batch is not None and batch.started_on is not None and row.started_on < batch.started_on:
            check.fault(
                TRAYS, row, "started_on",
                f"{row.started_on} is before its batch {row.batch} was started, "
                f"{batch.started_on}: write that day or a later one, or correct the batch's.",
            )  # fmt: skip
        check_place(check, TRAYS, row, within=True)
        _check_end(check, row)
        for parent in row.parents or ():
            _check_parent(check, row, parent)


def _check_end(check: Check, row: Any) -> None:
    check.both_or_none(TRAYS, row, "ended_on", "end")
    if row.ended_on is not None and row.ended_on < row.started_on:
        check.fault(
            TRAYS,
            row,
            "ended_on",
            f"{row.ended_on} is before it was started, {row.started_on}: correct one of the two.",
        )
    if row.end_cause is not None and row.end is None:
        check.fault(
            TRAYS, row, "end_cause", "a cause stands beside an end: give end and ended_on, too."
        )


def _check_parent(check: Check, row: Any, parent: str) -> None:
    fact = check.world.tray(parent)
    if fact is None:
        return
    if parent == row.code:
        check.fault(TRAYS, row, "parents", "a tray cannot be its own parent.")
    elif fact.batch is not None and fact.batch != row.batch:
        check.fault(TRAYS, row, "parents", other_batch(row.code, row.batch, parent, fact.batch))
    else:
        check.fresh.parentage.add((parent, row.code))


def other_batch(code: str, batch: str | None, other: str, other_batch_code: str | None) -> str:
    """Return the words for two trays that would be merged across batches."""
    return (
        f"tray {other} is of batch {other_batch_code}, {code} of {batch}: trays of different "
        "batches are never merged. A selected form starts a batch of its own."
    )


def refuse_circles(check: Check) -> None:
    """Add a fault where trays would be filled from each other in a circle."""
    pairs = check.fresh.parentage
    if not pairs:
        return
    stored = check.world.stored[TRAYS.name]
    graph: dict[str, set[str]] = {}
    if any(child in stored for _, child in pairs):
        graph = parents_of()
    for parent, child in sorted(pairs):
        graph.setdefault(child, set()).add(parent)
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        circle = sorted(set(error.args[1]))
        rows = {row.code: (TRAYS, row, "parents") for row in check.of(TRAYS)}
        for row in check.of(MOVEMENTS):
            if row.to_tray is not None:
                rows.setdefault(row.to_tray, (MOVEMENTS, row, "to_tray"))
        named = next((rows[code] for code in circle if code in rows), None)
        if named is not None:
            check.fault(
                *named,
                f"{', '.join(circle[:6])} would be filled from each other in a circle: correct "
                "whom one of them came from.",
            )
