"""Which passages do a tray's looks and pickings prove that nobody stated?

Derived rows carry an id made from their content, so that the same records give the same rows
everywhere. What is no longer proved is struck out by a later row.
"""

from __future__ import annotations

import uuid
from datetime import date, datetime

from batches.core.history import Look, Passage, passages
from batches.core.stages import Stage
from batches.models import StageTransition
from batches.services.evidence import Evidence, Stated

_DERIVED = uuid.UUID("5b0e2c5e-1d64-4b8f-9a55-0f6a3b1f7c10")


def derived_id(tray_code: str, passage: Passage, repeat: int) -> uuid.UUID:
    """Return the id of a passage that Frondbook read out of the records itself."""
    words = (
        tray_code, passage.from_stage, passage.to_stage, passage.not_before, passage.seen_on, repeat
    )  # fmt: skip
    return uuid.uuid5(_DERIVED, "|".join(str(word) for word in words))


def proved(one: Evidence) -> tuple[Passage, ...]:
    """Return what looks and pickings prove beyond what somebody stated."""
    tray = one.tray
    seen = list(one.looks)
    seen += [Look(on=day, stage_seen=stage) for day, stage in one.pickings]
    # Stable: what was picked on a day comes after that day's looks.
    seen.sort(key=lambda look: look.on)
    return passages(
        seen,
        route=tray.route,
        start_stage=Stage(tray.start_stage),
        started_on=tray.started_on,
        known=[row.passage for row in one.stated if not row.derived],
    )


def derive(evidence: dict[int, Evidence], ids: set[int], *, recorded_at: datetime) -> int:
    """Store what looks and pickings prove, strike out what they no longer do; return the rows."""
    new: list[StageTransition] = []
    for pk in ids:
        one = evidence[pk]
        should = {(p.from_stage, p.to_stage, p.not_before, p.seen_on): p for p in proved(one)}
        for row in [row for row in one.stated if row.derived]:
            key = _key(row.passage)
            if key in should:
                del should[key]
            else:
                new.append(_strike(one, row.id, row.passage, recorded_at))
                one.stated.remove(row)
        new += [_derived(one, passage, recorded_at) for passage in should.values()]
    if new:
        _number(new)
        StageTransition.objects.bulk_create(new, batch_size=500)
        _add_to_evidence(evidence, new)
    return len(new)


def _key(passage: Passage) -> tuple[Stage, Stage, date | None, date]:
    return passage.from_stage, passage.to_stage, passage.not_before, passage.seen_on


def _passage(row: StageTransition) -> Passage:
    return Passage(
        from_stage=Stage(row.from_stage),
        to_stage=Stage(row.to_stage),
        not_before=row.not_before,
        seen_on=row.seen_on,
    )


def _derived(one: Evidence, passage: Passage, recorded_at: datetime) -> StageTransition:
    return StageTransition(
        tray=one.tray,
        from_stage=passage.from_stage,
        to_stage=passage.to_stage,
        not_before=passage.not_before,
        seen_on=passage.seen_on,
        derived=True,
        recorded_at=recorded_at,
    )


def _strike(
    one: Evidence, row_id: uuid.UUID, passage: Passage, recorded_at: datetime
) -> StageTransition:
    row = _derived(one, passage, recorded_at)
    row.id = uuid.uuid5(_DERIVED, f"strike|{row_id}")
    row.strikes_out_id = row_id
    return row


def _number(new: list[StageTransition]) -> None:
    """Give derived rows ids that were never used: the same passage may have been struck before."""
    fresh = [row for row in new if row.strikes_out_id is None]
    taken: set[uuid.UUID] = set()
    first = {derived_id(row.tray.code, _passage(row), 0) for row in fresh}
    used_first = set(StageTransition.objects.filter(id__in=first).values_list("id", flat=True))
    for row in fresh:
        repeat = 0
        row.id = derived_id(row.tray.code, _passage(row), repeat)
        known = row.id in used_first
        while row.id in taken or (known and StageTransition.objects.filter(id=row.id).exists()):
            repeat += 1
            row.id = derived_id(row.tray.code, _passage(row), repeat)
        taken.add(row.id)


def _add_to_evidence(evidence: dict[int, Evidence], new: list[StageTransition]) -> None:
    touched = set()
    for row in new:
        if row.strikes_out_id is None:
            evidence[row.tray_id].stated.append(
                Stated(id=row.id, passage=_passage(row), derived=True)
            )
            touched.add(row.tray_id)
    for pk in touched:
        evidence[pk].stated.sort(key=lambda stated: stated.passage.seen_on)
