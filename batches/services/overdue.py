"""What is due and what is late on a day, and why?

Reads the trays with a line on or before the day (by the index on ``due_on``), the lots, the stock
plants and the treatments.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

from batches.core.cares import Care
from batches.core.lateness import (
    Due,
    decision_reason,
    dues,
    lateness_of,
    look_reason,
    picking_reason,
    stage_reason,
)
from batches.core.stages import Route
from batches.models import Tray
from batches.services.cares import care_lines, wanted_cares
from batches.services.outlooks import Outlooks, load_outlooks
from batches.services.overdue_elsewhere import lot_lines, sori_lines
from batches.services.shut_places import ShutPlaces, shut_places
from batches.services.trays_on_day import TrayOnDay, all_as_stored, all_as_they_stood, as_stored

KINDS = ("look", "stage", "lot", "care", "picking", "return", "sori", "decision")


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """One line of Today; ``lateness`` is days late against the days it should have taken."""

    kind: str
    due_on: date
    days_late: int
    lateness: float
    reason: str
    tray: str | None = None
    lot: str | None = None
    taxon: str | None = None
    fern_html: str = ""
    common_name: str = ""
    bench: str | None = None
    house: str | None = None
    walk_order: int | None = None
    stage: str | None = None
    isolated: bool = False
    opened: bool = False
    revision: int | None = None
    care: str = ""

    @property
    def key(self) -> str:
        """What names the line from day to day: kind and code."""
        return f"{self.care or self.kind}:{self.tray or self.lot or self.bench or ''}"


class InBrief(Protocol):
    """What orders a line and tells its place in the round, words or not."""

    @property
    def kind(self) -> str: ...
    @property
    def days_late(self) -> int: ...
    @property
    def lateness(self) -> float: ...
    @property
    def tray(self) -> str | None: ...
    @property
    def lot(self) -> str | None: ...
    @property
    def bench(self) -> str | None: ...
    @property
    def house(self) -> str | None: ...
    @property
    def walk_order(self) -> int | None: ...
    @property
    def isolated(self) -> bool: ...
    @property
    def opened(self) -> bool: ...


def overdue_lines(*, on: date, today: date, now: datetime | None = None) -> tuple[DueLine, ...]:
    """Return every due and late line of a day, the latest against its time first.

    Parameters
    ----------
    on : date
        Only what was seen by the end of this day is used.
    today : date
        The nursery's own day; for it and later days the stored dates serve.
    now : datetime, optional
        The moment at which a place counts as shut; the end of the day when not given.
    """
    here = all_as_stored(Tray.objects.due(on)) if on >= today else all_as_they_stood(on=on)
    shut = shut_places(on=on, now=now)
    lines: list[DueLine] = []
    for one in here:
        if not shut.covers(one.tray):
            lines.extend(_tray_lines(one, on=on))
    lines.extend(_care_lines(on=on, today=today, shut=shut))
    lines.extend(lines_beside(on=on, shut=shut))
    return tuple(sorted(lines, key=latest_first))


def lines_beside(*, on: date, shut: ShutPlaces) -> Iterator[DueLine]:
    """Yield the lines that do not stand in a tray's columns: returns, lots, sori."""
    yield from _return_lines(shut, on=on)
    yield from _elsewhere(on=on)


def latest_first(line: InBrief) -> tuple[float, int, str, str]:
    """Order lines: the latest against its time first."""
    return (-line.lateness, -line.days_late, line.tray or line.lot or line.bench or "", line.kind)


def overdue_lines_of(*, tray: Tray, on: date, outlooks: Outlooks) -> tuple[DueLine, ...]:
    """Return the lines of one tray out of its stored columns; empty for an ended one."""
    if tray.ended_on is not None:
        return ()
    return tuple(_tray_lines(as_stored(tray, outlooks), on=on))


def _tray_lines(one: TrayOnDay, *, on: date) -> Iterator[DueLine]:
    for due in dues(one.due_facts, on=on):
        yield _line(one, due, on=on, reason=_reason(one, due, on=on))


def _reason(one: TrayOnDay, due: Due, *, on: date) -> str:
    if due.kind == "stage" and one.outlook is not None:
        return stage_reason(one.facts, one.outlook, on=on)
    if due.kind == "decision":
        return decision_reason(one.facts, on=on)
    if due.kind == "picking":
        return picking_reason(due.due_on, last_picked_on=one.tray.last_picked_on)
    return look_reason(one.facts, one.dates, on=on)


def _line(one: TrayOnDay, due: Due, *, on: date, reason: str, care: str = "") -> DueLine:
    tray = one.tray
    taxon = tray.batch.taxon
    lot = tray.batch.spore_lot
    return DueLine(
        kind=due.kind,
        due_on=due.due_on,
        days_late=(on - due.due_on).days,
        lateness=lateness_of(due, on=on),
        reason=reason,
        tray=tray.code,
        lot=None if lot is None else lot.code,
        taxon=taxon.code,
        fern_html=taxon.name.html,
        common_name=taxon.common_name,
        bench=None if tray.bench is None else tray.bench.code,
        house=None if tray.bench is None else tray.bench.house.code,
        walk_order=None if tray.bench is None else tray.bench.walk_order,
        stage=str(one.facts.stage),
        isolated=tray.isolated,
        opened=tray.opened_on is not None,
        revision=tray.revision,
        care=care,
    )


def _care_lines(*, on: date, today: date, shut: ShutPlaces) -> Iterator[DueLine]:
    """Yield the cares that are due; while no reminder is turned on, one query says so."""
    wanted = wanted_cares()
    if not wanted:
        return
    here = all_as_stored(Tray.objects.active()) if on >= today else all_as_they_stood(on=on)
    yield from _cares_of((one for one in here if not shut.covers(one.tray)), on=on, wanted=wanted)


def care_lines_of(*, trays: Iterable[Tray], on: date, outlooks: Outlooks) -> Iterator[DueLine]:
    """Yield the care lines of some trays out of their stored columns; two queries."""
    here = (as_stored(tray, outlooks) for tray in trays)
    yield from _cares_of(here, on=on, wanted=wanted_cares())


def _cares_of(
    here: Iterable[TrayOnDay], *, on: date, wanted: dict[Route, frozenset[Care]]
) -> Iterator[DueLine]:
    by_tray = {one.tray.pk: one for one in here}
    trays = [(one.tray, one.facts) for one in by_tray.values()]
    for line in care_lines(trays=trays, on=on, wanted=wanted):
        due = Due(kind="care", due_on=line.due.due_on, should_take=line.due.should_take)
        yield _line(by_tray[line.tray.pk], due, on=on, reason=line.due.reason, care=line.due.care)


def _elsewhere(*, on: date) -> Iterable[DueLine]:
    for due in (*lot_lines(on=on), *sori_lines(on=on)):
        in_brief = Due(kind=due.kind, due_on=due.due_on, should_take=due.should_take)
        yield DueLine(
            kind=due.kind,
            due_on=due.due_on,
            days_late=(on - due.due_on).days,
            lateness=lateness_of(in_brief, on=on),
            reason=due.reason,
            lot=due.code,
            taxon=due.taxon.code,
            fern_html=due.taxon.name.html,
            common_name=due.taxon.common_name,
            bench=None if due.bench is None else due.bench.code,
            house=None if due.bench is None else due.bench.house.code,
            walk_order=None if due.bench is None else due.bench.walk_order,
        )


def _return_lines(shut: ShutPlaces, *, on: date) -> Iterable[DueLine]:
    if not shut.returns:
        return
    places = [back.place for back in shut.returns]
    trays = {tray.code: tray for tray in Tray.objects.filter(code__in=places).with_fern()}
    outlooks = load_outlooks(tray.batch.taxon_id for tray in trays.values())
    for back in shut.returns:
        due = Due(kind="return", due_on=back.reentry_on, should_take=back.shut_days)
        if back.place in trays:
            here = as_stored(trays[back.place], outlooks)
            yield _line(here, due, on=on, reason=back.reason)
            continue
        yield DueLine(
            kind="return",
            due_on=back.reentry_on,
            days_late=(on - back.reentry_on).days,
            lateness=lateness_of(due, on=on),
            reason=back.reason,
            bench=back.place,
        )
