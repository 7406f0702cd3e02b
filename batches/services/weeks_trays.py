"""Which trays are to be pricked out, potted up or become ready in a week, and why?

Read as plain rows: in a large nursery there are thousands, and only the first are shown.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.db.models import Q

from batches.core.rest import in_weeks
from batches.core.stages import RESTING_STAGES, Stage
from batches.models import Taxon, Tray
from batches.services.shut_places import shut_places

#: weeks ahead in which Today says what must be potted before a fern's last week for it
POT_UP_WARNING_WEEKS = 3
_PICKED = (Stage.FIRST_FROND, Stage.ROOTED)
_POTTED = (Stage.PRICKED_OUT, Stage.ROOTED_IN)


class TrayRow(NamedTuple):
    """What is read of every tray that may have work this week; the names are the columns."""

    pk: int
    code: str
    stage: str
    unit: str
    alive: int | None
    pot_size: str
    expected_on: date | None
    come_back_on: date | None
    first_picked_on: date | None
    batch__taxon: int
    batch__taxon__last_pot_up_week: int | None
    batch__taxon__rest_from_week: int | None
    batch__taxon__rest_to_week: int | None
    bench__code: str | None
    bench__house__code: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A row with what is to be done with it."""

    key: str
    row: TrayRow
    why: str
    plants: int | None


def rows_of_week(today: date, until: date) -> list[TrayRow]:
    """Return the trays whose day comes until then, or whose fern's last week for potting nears."""
    week = today.isocalendar().week
    weeks = (week, week + POT_UP_WARNING_WEEKS)
    ferns = list(Taxon.objects.filter(last_pot_up_week__range=weeks).values_list("pk", flat=True))
    standing = Tray.objects.active().filter(control=False, isolated=False).order_by()
    # Each with an index of its own, instead of one question that reads every tray.
    asked = [
        standing.filter(expected_on__lte=until).filter(
            Q(stage__in=_PICKED, come_back_on__isnull=True, first_picked_on__isnull=True)
            | Q(stage__in=_POTTED)
            | Q(stage=Stage.POTTED_UP, expected_on__gte=today)
        ),
        standing.filter(come_back_on__lte=until, stage__in=_PICKED),
    ]
    if ferns:
        asked.append(standing.filter(batch__taxon__in=ferns, stage__in=_POTTED))
    found = {
        row.pk: row
        for rows in asked
        for row in map(TrayRow._make, rows.values_list(*TrayRow._fields))
    }
    shut = shut_places(on=today)
    open_to_work = [
        row
        for row in found.values()
        if not shut.of_codes(row.code, row.bench__code, row.bench__house__code)
    ]
    return sorted(open_to_work, key=lambda row: (row.expected_on or date.min, row.code))


def to_prick_out(rows: Iterable[TrayRow], yields: dict[int, float]) -> Iterable[Work]:
    """Yield the trays to pick from, with the plants that one may expect."""
    for row in rows:
        if Stage(row.stage) not in _PICKED:
            continue
        if row.come_back_on is not None:
            why = f"more to come, come back on {row.come_back_on.day} {row.come_back_on:%b}"
        elif row.expected_on is not None:
            why = f"first picking expected by {row.expected_on.day} {row.expected_on:%b}"
        else:
            continue
        plants = row.alive if row.unit == "plants" else None
        if plants is None and row.batch__taxon in yields:
            plants = round(yields[row.batch__taxon])
        yield Work(key=f"prick_out:{row.code}", row=row, why=why, plants=plants)


def to_pot_up(rows: Iterable[TrayRow], today: date, until: date) -> Iterable[Work]:
    """Yield the trays to pot up; a fern at rest, or past its last week for it, waits."""
    for row in rows:
        stage = Stage(row.stage)
        if stage not in _POTTED:
            continue
        last = row.batch__taxon__last_pot_up_week
        weeks_left = None if last is None else last - today.isocalendar().week
        if weeks_left is not None and 0 <= weeks_left <= POT_UP_WARNING_WEEKS:
            why = f"pot before the end of week {last}, the last for this fern"
        elif (weeks_left is not None and weeks_left < 0) or _rests(row, stage, today):
            continue
        elif row.expected_on is not None and row.expected_on <= until:
            why = f"potting up expected by {row.expected_on.day} {row.expected_on:%b}"
        else:
            continue
        yield Work(key=f"pot_up:{row.code}", row=row, why=why, plants=row.alive)


def _rests(row: TrayRow, stage: Stage, today: date) -> bool:
    first, last = row.batch__taxon__rest_from_week, row.batch__taxon__rest_to_week
    if stage not in RESTING_STAGES or first is None or last is None:
        return False
    return in_weeks(today, (first, last))


def becoming_ready(rows: Iterable[TrayRow], today: date, until: date) -> list[TrayRow]:
    """Return the trays whose pots are expected to become ready from today on."""
    return [
        row
        for row in rows
        if row.stage == Stage.POTTED_UP and row.expected_on and today <= row.expected_on <= until
    ]
