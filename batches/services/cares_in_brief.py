"""Which care is due with which tray, in brief: in a large nursery with tens of thousands?

Read as plain rows and reckoned once for all trays that are alike: those of a fern that reached
their stage together and were cared for on the same days. `cares.care_lines` says the rest.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import NamedTuple

from batches.core.cares import CARED_STAGES, Care, CaredFor, CareDue, cares_due, most_pressing
from batches.core.history import Standing
from batches.core.stages import Route, Stage
from batches.models import Taxon
from batches.models.tray import TrayQuerySet
from batches.services.cares import given_cares


class CaredTray(NamedTuple):
    """What is read of a tray that may want care; the names are the columns."""

    pk: int
    code: str
    isolated: bool
    opened_on: date | None
    bench__code: str | None
    bench__house__code: str | None
    bench__walk_order: int | None
    stage: str
    stage_not_before: date | None
    stage_seen_on: date
    cover: str
    batch__taxon: int
    batch__route: str


def cares_in_brief(
    *, standing: TrayQuerySet, on: date, wanted: Mapping[Route, frozenset[Care]]
) -> Iterator[tuple[CaredTray, CareDue]]:
    """Yield the trays with a care due, each with its most pressing; three queries.

    Parameters
    ----------
    wanted : mapping
        The reminders that are turned on, by route; nothing is read while all are off.
    """
    if not wanted:
        return
    trays = standing.filter(
        control=False,
        batch__route__in=[str(route) for route in wanted],
        stage__in=[str(stage) for stage in CARED_STAGES],
    )
    rests = {fern.pk: fern.rest_weeks for fern in Taxon.objects.all()}
    given = given_cares(on=on)
    reckoned: dict[object, CareDue | None] = {}
    for row in map(CaredTray._make, trays.order_by().values_list(*CaredTray._fields)):
        done = given.get(row.pk, {})
        days = tuple(sorted(done.items())) if done else ()
        alike = (*row[7:], days)
        if alike not in reckoned:
            route, stage = Route(row.batch__route), Stage(row.stage)
            here = Standing(stage=stage, not_before=row.stage_not_before, seen_on=row.stage_seen_on)
            asked = CaredFor(
                route=route,
                stage=stage,
                stage_since=here.origin,
                cover=row.cover,
                rest=rests[row.batch__taxon],
                done=done,
            )
            found = cares_due(asked, on=on, wanted=wanted.get(route, frozenset()))
            reckoned[alike] = most_pressing(found, on=on)
        due = reckoned[alike]
        if due is not None:
            yield row, due
