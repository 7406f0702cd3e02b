"""Which trays are to be pricked out, potted up or become ready in a week, and why?

Read as plain rows: in a large nursery there are thousands, and only the first are shown.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import NamedTuple

from django.db.models import F, Q
from django.db.models.expressions import OrderBy

from batches.core.lateness import stage_rest
from batches.core.rest import in_weeks
from batches.core.stages import Stage
from batches.models import Taxon, Tray
from batches.models.tray import TrayQuerySet
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
    batch__taxon: int


class Work(NamedTuple):
    """A row with what is to be done with it; ``last_week`` is the fern's last one for potting."""

    deed: str
    row: TrayRow
    plants: int | None
    last_week: int | None = None

    @property
    def key(self) -> str:
        """What names the line when it is given to somebody."""
        return f"{self.deed}:{self.row.code}"

    def why(self, tray: Tray) -> str:
        """Say why it is to be done this week; ``tray`` is the row's own."""
        back, by = tray.come_back_on, tray.expected_on
        if self.last_week is not None:
            return f"pot before the end of week {self.last_week}, the last for this fern"
        if self.deed == "prick_out" and back is not None:
            return f"more to come, come back on {back.day} {back:%b}"
        what = "first picking" if self.deed == "prick_out" else "potting up"
        return "" if by is None else f"{what} expected by {by.day} {by:%b}"


def open_to_work(*, today: date) -> TrayQuerySet:
    """Return the trays that may be worked on: no controls, none set apart or behind a shut door."""
    standing = shut_places(on=today).leave_open(Tray.objects.active())
    return standing.filter(control=False, isolated=False)


def to_prick_out(trays: TrayQuerySet, *, until: date, yields: dict[int, float]) -> Iterator[Work]:
    """Yield the trays to pick from until then, with the plants that one may expect; two queries."""
    picked = trays.filter(stage__in=_PICKED)
    # Each with an index of its own, instead of one question that reads every tray.
    coming = picked.filter(come_back_on__lte=until)
    expected = picked.filter(
        expected_on__lte=until, come_back_on__isnull=True, first_picked_on__isnull=True
    )
    for row in (*_rows(coming, "come_back_on"), *_rows(expected, "expected_on")):
        plants = row.alive if row.unit == "plants" else None
        if plants is None and row.batch__taxon in yields:
            plants = round(yields[row.batch__taxon])
        yield Work("prick_out", row, plants)


def to_pot_up(trays: TrayQuerySet, *, today: date, until: date) -> Iterator[Work]:
    """Yield the trays to pot up until then, or in a fern's last weeks for it; two queries.

    A fern at rest, or past its last week for it, waits.
    """
    bound = Taxon.objects.filter(
        Q(last_pot_up_week__isnull=False) | Q(rest_from_week__isnull=False)
    ).in_bulk()
    week = today.isocalendar().week
    last_weeks = {
        pk: fern.last_pot_up_week
        for pk, fern in bound.items()
        if fern.last_pot_up_week is not None
        and week <= fern.last_pot_up_week <= week + POT_UP_WARNING_WEEKS
    }
    which = Q(expected_on__lte=until)
    if last_weeks:
        which |= Q(batch__taxon__in=last_weeks)
    potted = trays.filter(which, stage__in=_POTTED)
    for row in _rows(potted, F("expected_on").asc(nulls_first=True)):
        fern = bound.get(row.batch__taxon)
        if fern is not None and row.batch__taxon not in last_weeks:
            past = fern.last_pot_up_week is not None and fern.last_pot_up_week < week
            if past or in_weeks(today, stage_rest(Stage(row.stage), fern.rest_weeks)):
                continue
        yield Work("pot_up", row, row.alive, last_weeks.get(row.batch__taxon))


def becoming_ready(trays: TrayQuerySet, *, today: date, until: date) -> TrayQuerySet:
    """Return the trays whose pots are expected to become ready from today on."""
    ready = trays.filter(stage=Stage.POTTED_UP, expected_on__range=(today, until))
    return ready.order_by("expected_on", "code")


def _rows(trays: TrayQuerySet, day: str | OrderBy) -> Iterator[TrayRow]:
    """Read trays in order of a day."""
    return map(TrayRow._make, trays.order_by(day, "code").values_list(*TrayRow._fields))
