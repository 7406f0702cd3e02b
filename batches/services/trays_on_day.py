"""How does each tray stand on a day: its facts, its outlook and its dates?

For today the stored columns serve; for a day that is past, the histories are folded again as they
stood at the end of that day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from batches.core.history import Standing
from batches.core.lateness import DueDates, DueFacts, Outlook, TrayFacts
from batches.core.stages import Stage, next_stage
from batches.models import Tray
from batches.models.tray import TrayQuerySet
from batches.services import standing
from batches.services.evidence import gather
from batches.services.outlooks import Outlooks, load_outlooks
from batches.services.past_outlooks import outlooks_as_of


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayOnDay:
    """One tray as it stands on a day, with everything that its lines on Today are made of."""

    tray: Tray
    facts: TrayFacts
    outlook: Outlook | None
    dates: DueDates

    @property
    def due_facts(self) -> DueFacts:
        """What decides which lines the tray has."""
        return DueFacts(
            stage=self.facts.stage,
            kind=self.facts.kind,
            rest=self.facts.rest,
            look_due_on=self.dates.look_due_on,
            look_every=self.dates.look_every,
            late_on=self.dates.late_on,
            last_close_look_on=self.facts.last_close_look_on,
            decide_on=self.dates.decide_on,
            come_back_on=self.facts.come_back_on,
            last_picked_on=self.tray.last_picked_on,
            late_days=None if self.outlook is None else self.outlook.late_days,
        )


def as_stored(tray: Tray, outlooks: Outlooks) -> TrayOnDay:
    """Return how a tray stands by its stored columns; no query."""
    taxon = tray.batch.taxon
    route = tray.route
    stage = Stage(tray.stage)
    here = Standing(stage=stage, not_before=tray.stage_not_before, seen_on=tray.stage_seen_on)
    facts = TrayFacts(
        stage=stage,
        next_stage=next_stage(route, stage),
        kind=taxon.kind,
        rest=taxon.rest_weeks,
        started_on=tray.started_on,
        origin=here.origin,
        origin_half_day=here.origin_half_day,
        last_look_on=tray.last_look_on,
        last_close_look_on=tray.last_close_look_on,
        signs=tray.signs,
        picked=tray.first_picked_on is not None,
        control=tray.control,
        ended=tray.ended_on is not None,
        come_back_on=tray.come_back_on,
        own_look_every=outlooks.look_every(taxon, route, stage),
    )
    dates = DueDates(
        look_due_on=tray.look_due_on,
        look_every=tray.look_every,
        expected_on=tray.expected_on,
        late_on=tray.late_on,
        decide_on=tray.decide_on,
        due_on=tray.due_on,
    )
    return TrayOnDay(tray=tray, facts=facts, outlook=outlooks.of(taxon, route, stage), dates=dates)


def all_as_stored(trays: TrayQuerySet) -> Iterator[TrayOnDay]:
    """Yield how each of these trays stands by its stored columns."""
    found = list(trays.with_fern())
    outlooks = load_outlooks(tray.batch.taxon_id for tray in found)
    for tray in found:
        yield as_stored(tray, outlooks)


def all_as_they_stood(*, on: date) -> Iterator[TrayOnDay]:
    """Fold the histories of the trays that stood on a day again, up to its end."""
    ids = standing_trays(on=on)
    evidence = gather(ids, until=on)
    benches = dict(Tray.objects.filter(pk__in=ids).with_fern().in_bulk())
    for one in evidence.values():
        one.tray.ended_on = None
    for pk, fold in standing.folds(evidence, outlooks=outlooks_as_of(on)).items():
        if pk in benches:
            yield TrayOnDay(
                tray=benches[pk], facts=fold.facts, outlook=fold.outlook, dates=fold.dates
            )


def standing_trays(*, on: date) -> set[int]:
    """Return the ids of trays that stood at the end of a day."""
    rows = Tray.objects.filter(started_on__lte=on).filter(
        Q(ended_on__isnull=True) | Q(ended_on__gt=on)
    )
    return set(rows.values_list("pk", flat=True))
