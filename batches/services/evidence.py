"""What is on record about some trays: looks, passages, stock, ancestors?

Everything that the fold over a tray's history reads, fetched for many trays in a constant number
of queries, and cut off at the end of a day when the question is about the past.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from uuid import UUID

from django.db.models import Q, QuerySet

from batches.core.history import Look, Passage
from batches.core.ledger import Change, Posting
from batches.core.signs import Sign
from batches.core.stages import DONE_STAGES, Stage, is_ahead
from batches.models import Batch, Parentage, PlantMovement, StageTransition, Tray, TrayCheck
from batches.services.days import local_day
from batches.services.shared_rows import with_shared

#: SQLite takes a bounded number of values in one statement
_CHUNK = 5_000
#: from so many trays on it pays to read their batches apart
_MANY = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Stated:
    """A standing transition row."""

    id: UUID
    passage: Passage
    derived: bool


@dataclass(slots=True, kw_only=True)
class Evidence:
    """What is on record about one tray; all lists ascend by time.

    ``later`` says that some of it lies after the day that was asked for and is left out; ``brief``
    that no look was read, because what they say is stored.
    """

    tray: Tray
    looks: list[Look] = field(default_factory=list)
    stated: list[Stated] = field(default_factory=list)
    postings: list[Posting] = field(default_factory=list)
    #: days on which something went to a tray that starts in a done stage ahead of this tray's
    pickings: list[tuple[date, Stage]] = field(default_factory=list)
    parent_ids: list[int] = field(default_factory=list)
    later: bool = False
    brief: bool = False

    @property
    def last_close_look_on(self) -> date | None:
        """The day of the last look that was no glance; None without one."""
        if self.brief:
            return self.tray.last_close_look_on
        return next((look.on for look in reversed(self.looks) if not look.glance), None)

    @property
    def picked_into(self) -> frozenset[Stage]:
        """Done stages that its children started in: they do not move this tray on."""
        return frozenset(stage for _, stage in self.pickings)


def gather(
    tray_ids: Iterable[int], *, until: date | None = None, in_brief: bool = False
) -> dict[int, Evidence]:
    """Return the evidence about these trays and all their ancestors, by tray id.

    Parameters
    ----------
    until : date, optional
        Only what was seen or done by the end of that day.
    in_brief : bool
        Leave out the looks of trays with nothing on record after that day: what these prove is
        derived and stored, and so is the day of the last. They are most rows of a nursery by far.
    """
    found: dict[int, Evidence] = {}
    wanted = set(tray_ids)
    while wanted:
        for ids in _chunks(sorted(wanted)):
            for tray in _with_batches(Tray.objects.filter(pk__in=ids), many=len(ids) > _MANY):
                found[tray.pk] = Evidence(tray=tray)
            for parent_id, child_id in Parentage.objects.filter(child__in=ids).values_list(
                "parent_id", "child_id"
            ):
                found[child_id].parent_ids.append(parent_id)
        wanted = {p for e in found.values() for p in e.parent_ids} - found.keys()
    for ids in _chunks(sorted(found)):
        _add_stated(found, ids, until)
        _add_movements(found, ids, until)
        if in_brief:
            for pk in ids:
                last = found[pk].tray.last_look_on
                seen_later = until is not None and last is not None and last > until
                found[pk].brief = not (found[pk].later or seen_later)
        _add_looks(found, [pk for pk in ids if not found[pk].brief], until)
    return found


def _with_batches(trays: QuerySet[Tray], *, many: bool) -> Iterable[Tray]:
    """Bring batch and fern; of many trays those of a batch share its row, for one query more."""
    if not many:
        return trays.select_related("batch__taxon")
    return with_shared(trays, batch=Batch.objects.select_related("taxon"))


def _chunks(ids: Sequence[int]) -> Iterable[Sequence[int]]:
    for start in range(0, len(ids), _CHUNK):
        yield ids[start : start + _CHUNK]


def _add_looks(found: dict[int, Evidence], ids: Sequence[int], until: date | None) -> None:
    rows = (
        TrayCheck.objects.standing()
        .filter(tray__in=ids)
        .order_by("seen_at", "device", "device_seq", "id")
        .values_list("tray_id", "seen_at", "stage_seen", "glance", "signs", "opened")
    )
    for tray_id, seen_at, stage_seen, glance, signs, opened in rows.iterator(5_000):
        day = local_day(seen_at)
        if until is not None and day > until:
            continue
        found[tray_id].looks.append(
            Look(
                on=day,
                stage_seen=Stage(stage_seen) if stage_seen else None,
                glance=glance,
                signs=frozenset(Sign(word) for word in signs.split()) if signs else frozenset(),
                opened=opened,
            )
        )


def _add_stated(found: dict[int, Evidence], ids: Sequence[int], until: date | None) -> None:
    rows = (
        StageTransition.objects.standing()
        .filter(tray__in=ids)
        .order_by("seen_on", "recorded_at", "id")
        .values_list("tray_id", "id", "from_stage", "to_stage", "not_before", "seen_on", "derived")
    )
    for tray_id, row_id, from_stage, to_stage, not_before, seen_on, derived in rows:
        if until is not None and seen_on > until:
            found[tray_id].later = True
            continue
        found[tray_id].stated.append(
            Stated(
                id=row_id,
                derived=derived,
                passage=Passage(
                    from_stage=Stage(from_stage),
                    to_stage=Stage(to_stage),
                    not_before=not_before,
                    seen_on=seen_on,
                ),
            )
        )


def _add_movements(found: dict[int, Evidence], ids: Sequence[int], until: date | None) -> None:
    wanted = set(ids)
    rows = (
        PlantMovement.objects.standing()
        .filter(Q(tray__in=ids) | Q(to_tray__in=ids))
        .order_by("on", "recorded_at", "id")
        .values_list(
            "tray_id", "to_tray_id", "on", "kind", "quantity", "arrived", "to_tray__start_stage"
        )
    )
    for tray_id, to_tray_id, day, kind, quantity, arrived, child_stage in rows:
        if until is not None and day > until:
            for pk in (tray_id, to_tray_id):
                if pk in wanted:
                    found[pk].later = True
            continue
        if tray_id in wanted:
            one = found[tray_id]
            one.postings.append(Posting(on=day, kind=Change(kind), quantity=quantity))
            if child_stage:
                stage = Stage(child_stage)
                start = Stage(one.tray.start_stage)
                if stage in DONE_STAGES and is_ahead(one.tray.route, stage, start):
                    one.pickings.append((day, stage))
        if to_tray_id in wanted:
            there = quantity if arrived is None else arrived
            found[to_tray_id].postings.append(
                Posting(on=day, kind=Change.OUT, quantity=there, arrived_here=True)
            )
