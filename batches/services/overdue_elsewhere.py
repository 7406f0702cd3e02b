"""What is due away from the trays: lots in the drawer, sori on the stock plants?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Exists, Min, OuterRef, Q

from batches.core.lot_age import LotFacts, due_with_lot
from batches.core.rest import in_weeks
from batches.models import Batch, Bench, GerminationTest, Source, SporeLot, Taxon


@dataclass(frozen=True, slots=True, kw_only=True)
class DueElsewhere:
    """One thing due with a lot (kind ``lot``) or a stock plant (kind ``sori``)."""

    kind: str
    code: str
    taxon: Taxon
    due_on: date
    should_take: int
    reason: str
    bench: Bench | None = None


def lot_lines(*, on: date) -> Iterator[DueElsewhere]:
    """Yield one line for each lot with something due: its most pressing, naming the others."""
    waiting = Q(counted_on__isnull=True) | Q(counted_on__gt=on)
    tests: dict[int, date] = dict(
        GerminationTest.objects.filter(waiting, sown_on__lte=on)
        .order_by()
        .values_list("lot")
        .annotate(first=Min("sown_on"))
    )
    sown = Exists(Batch.objects.filter(spore_lot=OuterRef("pk"), started_on__lte=on))
    drying = Q(cleaned_on__isnull=True) | Q(cleaned_on__gt=on)
    # A cleaned and sown lot that is under no test may rest: it is not read at all.
    lots = (
        SporeLot.objects.filter(collected_on__lte=on)
        .filter(Q(ended_on__isnull=True) | Q(ended_on__gt=on))
        .filter(drying | ~sown | Q(pk__in=tests))
        .select_related("taxon")
    )
    unsown = set(lots.filter(~sown).values_list("pk", flat=True))
    for lot in lots:
        cleaned_on = lot.cleaned_on
        found = due_with_lot(
            LotFacts(
                spore_kind=lot.taxon.spore_kind,
                collected_on=lot.collected_on,
                drying_since=lot.drying_since,
                cleaned_on=cleaned_on if cleaned_on is not None and cleaned_on <= on else None,
                sown=lot.pk not in unsown,
                sow_by_days=lot.taxon.sow_by_days,
                test_sown_on=tests.get(lot.pk),
            ),
            on=on,
        )
        if found:
            worst = max(found, key=lambda due: (on - due.due_on).days / due.should_take)
            yield DueElsewhere(
                kind="lot",
                code=lot.code,
                taxon=lot.taxon,
                due_on=worst.due_on,
                should_take=worst.should_take,
                reason=" ".join(
                    due.reason for due in (worst, *(d for d in found if d is not worst))
                ),
            )


def sori_lines(*, on: date) -> Iterator[DueElsewhere]:
    """Yield one line for each stock plant whose sori ripen now and that nobody looked at since."""
    plants = Source.objects.filter(ripe_from_week__isnull=False)
    plants = plants.select_related("taxon", "bench__house")
    for plant in plants:
        weeks = plant.ripe_weeks
        if weeks is None or not in_weeks(on, weeks):
            continue
        since = _season_began(on, weeks)
        looked = plant.sori_looked_on
        if looked is not None and since <= looked <= on:
            continue
        if SporeLot.objects.filter(source=plant, collected_on__range=(since, on)).exists():
            continue
        span = _season_days(since, weeks)
        yield DueElsewhere(
            kind="sori",
            code=plant.code,
            taxon=plant.taxon,
            due_on=since,
            should_take=span,
            reason=f"Its sori ripen in weeks {weeks[0]} to {weeks[1]}: look at the sori. "
            "Nobody has noted a look or a collection this season.",
            bench=plant.bench,
        )


def _season_began(on: date, weeks: tuple[int, int]) -> date:
    """Return the Monday on which the running season of ripening weeks began."""
    day = on - timedelta(days=on.weekday())
    while in_weeks(day - timedelta(days=7), weeks) and (on - day).days < 371:
        day -= timedelta(days=7)
    return day


def _season_days(since: date, weeks: tuple[int, int]) -> int:
    day = since
    while in_weeks(day, weeks) and (day - since).days < 371:
        day += timedelta(days=7)
    return (day - since).days
