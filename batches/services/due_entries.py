"""What is due today, in brief: enough to count, order and part the lines of a large nursery?

`overdue.overdue_lines` makes every line with its reason in words. A page shows sixty of perhaps
thousands: here the stored dates are read as plain rows, and only what a page shows is made a line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from batches.core.lateness import Due, DueFacts, dues, lateness_of
from batches.core.stages import Route, Stage
from batches.models import Taxon, Tray
from batches.services.outlooks import Outlooks, load_outlooks
from batches.services.overdue import DueLine, latest_first, lines_beside, overdue_lines_of
from batches.services.shut_places import shut_places


@dataclass(frozen=True, slots=True, kw_only=True)
class DueEntry:
    """A line of Today without its words; ``line`` holds those that do not rest on stored dates."""

    kind: str
    days_late: int
    lateness: float
    tray: str | None
    tray_pk: int | None = None
    lot: str | None = None
    bench: str | None
    house: str | None
    walk_order: int | None
    isolated: bool
    opened: bool
    care: str = ""
    line: DueLine | None = None

    @property
    def key(self) -> str:
        """What names the line from day to day, as `DueLine.key` does."""
        return f"{self.care or self.kind}:{self.tray or self.lot or self.bench or ''}"


class _Row(NamedTuple):
    """What is read of every tray with a line; the names are the columns."""

    pk: int
    code: str
    stage: str
    look_due_on: date | None
    look_every: int
    late_on: date | None
    last_close_look_on: date | None
    decide_on: date | None
    come_back_on: date | None
    last_picked_on: date | None
    isolated: bool
    opened_on: date | None
    batch__taxon: int
    batch__route: str
    bench__code: str | None
    bench__house__code: str | None
    bench__walk_order: int | None


def due_entries(*, on: date, now: datetime) -> tuple[DueEntry, ...]:
    """Return the lines of the nursery's own day in brief, the latest against its time first.

    A constant number of queries.
    """
    shut = shut_places(on=on, now=now)
    rows = [
        row
        for row in map(_Row._make, Tray.objects.due(on).values_list(*_Row._fields))
        if not shut.of_codes(row.code, row.bench__code, row.bench__house__code)
    ]
    ferns = Taxon.objects.in_bulk({row.batch__taxon for row in rows})
    outlooks = load_outlooks(ferns)
    found = [entry for row in rows for entry in _entries(row, ferns, outlooks, on=on)]
    found += [_beside(line) for line in lines_beside(on=on, today=on, shut=shut)]
    return tuple(sorted(found, key=latest_first))


def lines_of(*, entries: Sequence[DueEntry], on: date) -> tuple[DueLine, ...]:
    """Return these entries as whole lines, in their order; a constant number of queries."""
    pks = {entry.tray_pk for entry in entries if entry.line is None and entry.tray_pk is not None}
    trays = Tray.objects.with_fern().in_bulk(pks)
    outlooks = load_outlooks(tray.batch.taxon_id for tray in trays.values())
    made = {
        (pk, line.kind): line
        for pk, tray in trays.items()
        for line in overdue_lines_of(tray=tray, on=on, outlooks=outlooks)
    }
    found = (
        made.get((entry.tray_pk or 0, entry.kind)) if entry.line is None else entry.line
        for entry in entries
    )
    # What somebody looked at between the two readings has no line any more.
    return tuple(line for line in found if line is not None)


def _entries(
    row: _Row, ferns: dict[int, Taxon], outlooks: Outlooks, *, on: date
) -> Iterator[DueEntry]:
    fern, stage = ferns[row.batch__taxon], Stage(row.stage)
    outlook = None
    if row.late_on is not None and row.late_on <= on:
        outlook = outlooks.of(fern, Route(row.batch__route), stage)
    facts = DueFacts(
        stage=stage,
        kind=fern.kind,
        rest=fern.rest_weeks,
        look_due_on=row.look_due_on,
        look_every=row.look_every,
        late_on=row.late_on,
        last_close_look_on=row.last_close_look_on,
        decide_on=row.decide_on,
        come_back_on=row.come_back_on,
        last_picked_on=row.last_picked_on,
        late_days=None if outlook is None else outlook.late_days,
    )
    for due in dues(facts, on=on):
        yield _entry(row, due, on=on)


def _entry(row: _Row, due: Due, *, on: date) -> DueEntry:
    return DueEntry(
        kind=due.kind,
        days_late=(on - due.due_on).days,
        lateness=lateness_of(due, on=on),
        tray=row.code,
        tray_pk=row.pk,
        bench=row.bench__code,
        house=row.bench__house__code,
        walk_order=row.bench__walk_order,
        isolated=row.isolated,
        opened=row.opened_on is not None,
    )


def _beside(line: DueLine) -> DueEntry:
    return DueEntry(
        kind=line.kind,
        days_late=line.days_late,
        lateness=line.lateness,
        tray=line.tray,
        lot=line.lot,
        bench=line.bench,
        house=line.house,
        walk_order=line.walk_order,
        isolated=line.isolated,
        opened=line.opened,
        care=line.care,
        line=line,
    )
