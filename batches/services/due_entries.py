"""What is due today, in brief: enough to count, order and part the lines of a large nursery?

`overdue.overdue_lines` makes every line with its reason in words. A page shows sixty of perhaps
thousands. Many trays are late alike: their looks fell due on one day after one interval, or they
are of one fern and reached their stage together. They are counted in the database and read, as
plain rows, only as far as somebody turns the pages; what a page shows is made a line.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import reduce
from itertools import chain, groupby
from operator import or_
from typing import NamedTuple, overload

from django.db import connection
from django.db.models import Case, Count, Q, When
from django.db.models.functions import Collate

from batches.core.cares import CareDue
from batches.core.lateness import Due, DueFacts, dues, lateness_of
from batches.core.stages import NO_GERMINATION_DAYS, Route, Stage
from batches.models import Taxon, Tray
from batches.models.tray import TrayQuerySet
from batches.services.cares import wanted_cares
from batches.services.cares_in_brief import CaredTray, cares_in_brief
from batches.services.outlooks import Outlooks, load_outlooks
from batches.services.overdue import (
    DueLine,
    care_lines_of,
    latest_first,
    lines_beside,
    overdue_lines_of,
)
from batches.services.shut_places import shut_places

#: so many groups are asked for by their conditions; for more, every tray with a line is read
_MOST_ASKED = 60


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
    """What is read of a tray with a line; the names are the columns."""

    pk: int
    code: str
    isolated: bool
    opened_on: date | None
    bench__code: str | None
    bench__house__code: str | None
    bench__walk_order: int | None
    stage: str
    look_due_on: date | None
    look_every: int
    late_on: date | None
    last_close_look_on: date | None
    decide_on: date | None
    come_back_on: date | None
    last_picked_on: date | None
    batch__taxon: int
    batch__route: str


class _LateAlike(NamedTuple):
    """Trays with one thing due since one day; ``which`` finds them in the database."""

    due: Due
    which: Q
    trays: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ferns:
    """What decides the lines of the trays of some ferns."""

    by_pk: dict[int, Taxon]
    outlooks: Outlooks

    def dues_of(self, row: _Row, *, on: date) -> tuple[Due, ...]:
        """Return what is due with a tray."""
        fern, stage = self.by_pk[row.batch__taxon], Stage(row.stage)
        outlook = None
        if row.late_on is not None and row.late_on <= on:
            outlook = self.outlooks.of(fern, Route(row.batch__route), stage)
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
        return dues(facts, on=on)


@dataclass(frozen=True, slots=True, kw_only=True)
class DueDay(Sequence[DueEntry]):
    """The lines of a day, the latest against its time first; trays are read when asked for.

    ``kinds`` counts the lines by kind.
    """

    on: date
    kinds: Counter[str]
    standing: TrayQuerySet
    ferns: _Ferns
    alike: tuple[_LateAlike, ...]
    beside: tuple[DueEntry, ...]

    def __len__(self) -> int:
        return self.kinds.total()

    @overload
    def __getitem__(self, wanted: int) -> DueEntry: ...
    @overload
    def __getitem__(self, wanted: slice) -> tuple[DueEntry, ...]: ...
    def __getitem__(self, wanted: int | slice) -> DueEntry | tuple[DueEntry, ...]:
        """Return lines by their place; one query."""
        if isinstance(wanted, slice):
            _, stop, _ = wanted.indices(len(self))
            return self._first(stop)[wanted]
        place = range(len(self))[wanted]
        return self._first(place + 1)[place]

    def __iter__(self) -> Iterator[DueEntry]:
        return iter(self[:])

    def of_kind(self, kind: str) -> DueDay:
        """Return the lines of one kind alone."""
        return replace(
            self,
            kinds=Counter({kind: self.kinds[kind]}),
            alike=tuple(group for group in self.alike if group.due.kind == kind),
            beside=tuple(entry for entry in self.beside if entry.kind == kind),
        )

    def _first(self, how_many: int) -> tuple[DueEntry, ...]:
        """Read the groups that may hold the first lines, the last of them no further than needed.

        Groups equally late stand among each other, by code: they are read together.
        """
        whole: list[_LateAlike] = []
        cut: list[_LateAlike] = []
        for _, equally in groupby(self.alike, key=lambda group: _how_late(group.due, on=self.on)):
            cut = list(equally)
            if _trays(whole) + _trays(cut) > how_many:
                break
            whole, cut = whole + cut, []
        read = self._read(whole, cut, most=how_many)
        return tuple(sorted((*read, *self.beside), key=latest_first)[:how_many])

    def _read(
        self, whole: Sequence[_LateAlike], cut: Sequence[_LateAlike], *, most: int
    ) -> Iterator[DueEntry]:
        """Yield all lines of some groups, then of others as far as the rows reach; one query."""
        groups = [*whole, *cut]
        if not groups:
            return
        trays = self.standing
        if len(groups) <= _MOST_ASKED:
            trays = trays.filter(_any_of(groups))
            # By the bytes of the code, as sorted() does, whatever the database holds for order.
            code = Collate("code", "C" if connection.vendor == "postgresql" else "BINARY")
            first = [Case(When(_any_of(whole), then=0), default=1)] if whole and cut else []
            trays = trays.order_by(*first, code)[:most]
        wanted = {(one.due.kind, *_how_late(one.due, on=self.on)) for one in groups}
        for row in map(_Row._make, trays.values_list(*_Row._fields)):
            for due in self.ferns.dues_of(row, on=self.on):
                if (due.kind, *_how_late(due, on=self.on)) in wanted:
                    yield _entry(row, due, on=self.on)


def due_entries(*, on: date, now: datetime) -> DueDay:
    """Return the lines of the nursery's own day in brief; a constant number of queries."""
    shut = shut_places(on=on, now=now)
    standing = shut.leave_open(Tray.objects.due(on)).order_by()
    due = Taxon.objects.filter(pk__in=standing.values("batch__taxon"))
    by_pk = {fern.pk: fern for fern in due}
    ferns = _Ferns(by_pk=by_pk, outlooks=load_outlooks(by_pk))
    alike = sorted(
        chain(
            _looks(standing, on=on), _late_in_stage(standing, ferns, on=on),
            _decisions(standing, ferns, on=on), _pickings(standing, on=on),
        ),
        key=lambda group: _how_late(group.due, on=on),
    )  # fmt: skip
    wanted = wanted_cares()
    cares = cares_in_brief(standing=shut.leave_open(Tray.objects.active()), on=on, wanted=wanted)
    others = (_beside(line) for line in lines_beside(on=on, shut=shut))
    # Sorted once: every page that is read sorts them anew, together with others.
    beside = tuple(sorted((*(_cared(*one, on=on) for one in cares), *others), key=latest_first))
    kinds = Counter(entry.kind for entry in beside)
    for group in alike:
        kinds[group.due.kind] += group.trays
    return DueDay(
        on=on, kinds=kinds, standing=standing, ferns=ferns, alike=tuple(alike), beside=beside
    )


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
    if any(entry.kind == "care" for entry in entries):
        by_code = {tray.code: pk for pk, tray in trays.items()}
        for line in care_lines_of(trays=trays.values(), on=on, outlooks=outlooks):
            made[by_code[line.tray or ""], "care"] = line
    found = (
        made.get((entry.tray_pk or 0, entry.kind)) if entry.line is None else entry.line
        for entry in entries
    )
    # What somebody looked at between the two readings has no line any more.
    return tuple(line for line in found if line is not None)


def _how_late(due: Due, *, on: date) -> tuple[float, date]:
    """Return what orders lines before their codes do, as `latest_first`."""
    return (-lateness_of(due, on=on), due.due_on)


def _any_of(groups: Iterable[_LateAlike]) -> Q:
    return reduce(or_, (group.which for group in groups))


def _trays(groups: Iterable[_LateAlike]) -> int:
    return sum(group.trays for group in groups)


def _looks(standing: TrayQuerySet, *, on: date) -> Iterator[_LateAlike]:
    rows = standing.filter(look_due_on__lte=on).values_list("look_due_on", "look_every")
    for due_on, every, trays in rows.annotate(trays=Count("pk")):
        if due_on is not None:
            due = Due(kind="look", due_on=due_on, should_take=every)
            yield _LateAlike(due, Q(look_due_on=due_on, look_every=every), trays)


def _late_in_stage(standing: TrayQuerySet, ferns: _Ferns, *, on: date) -> Iterator[_LateAlike]:
    late = standing.late_in_stage(on)
    rows = late.values_list("batch__taxon", "batch__route", "stage", "late_on")
    for taxon, route, stage, late_on, trays in rows.annotate(trays=Count("pk")):
        outlook = ferns.outlooks.of(ferns.by_pk[taxon], Route(route), Stage(stage))
        if outlook is not None and late_on is not None:
            due = Due(kind="stage", due_on=late_on, should_take=outlook.late_days)
            which = Q(
                batch__taxon=taxon, batch__route=route, stage=stage, late_on=late_on,
                last_close_look_on__gte=late_on,
            )  # fmt: skip
            yield _LateAlike(due, which, trays)


def _decisions(standing: TrayQuerySet, ferns: _Ferns, *, on: date) -> Iterator[_LateAlike]:
    rows = standing.filter(decide_on__lte=on).values_list("batch__taxon", "decide_on")
    for taxon, decide_on, trays in rows.annotate(trays=Count("pk")):
        if decide_on is not None:
            limit = NO_GERMINATION_DAYS[ferns.by_pk[taxon].kind]
            due = Due(kind="decision", due_on=decide_on, should_take=limit)
            yield _LateAlike(due, Q(batch__taxon=taxon, decide_on=decide_on), trays)


def _pickings(standing: TrayQuerySet, *, on: date) -> Iterator[_LateAlike]:
    columns = ("come_back_on", "last_picked_on", "look_every")
    rows = standing.filter(come_back_on__lte=on).values_list(*columns)
    for back_on, last, every, trays in rows.annotate(trays=Count("pk")):
        if back_on is not None:
            span = every if last is None else (back_on - last).days
            due = Due(kind="picking", due_on=back_on, should_take=span)
            which = Q(come_back_on=back_on, last_picked_on=last, look_every=every)
            yield _LateAlike(due, which, trays)


def _entry(row: _Row | CaredTray, due: Due, *, on: date) -> DueEntry:
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


def _cared(row: CaredTray, care: CareDue, *, on: date) -> DueEntry:
    due = Due(kind="care", due_on=care.due_on, should_take=care.should_take)
    return replace(_entry(row, due, on=on), care=care.care)


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
