"""Which lots lie in the drawer, in what state, and what is due with each?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from batches.core.proportions import wilson
from batches.models import GerminationTest, SporeLot, Taxon
from batches.services.lots import sow_by_of
from batches.services.overdue_elsewhere import DueElsewhere, lot_lines

#: which lots a list shows: word of the address → words on the page
SHOWN = (
    ("kept", "in store"),
    ("due", "something due"),
    ("drying", "drying"),
    ("ended", "ended"),
    ("all", "all"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TestResult:
    """One counted sample: the share that came up, and between which shares the truth may lie.

    ``low`` and ``high`` are the 95 % interval after Wilson (1927); shares are 0 to 1.
    """

    test: GerminationTest
    share: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRow:
    """A lot with what is due with it and what its last counted sample gave; None for neither."""

    lot: SporeLot
    sow_by: date
    due: DueElsewhere | None
    result: TestResult | None


def lots_shown(*, show: str, fern: str, on: date) -> QuerySet[SporeLot]:
    """Return the lots of one of `SHOWN` whose fern or code the words name; an unknown one is all.

    One query more where it has to be known what is due.
    """
    lots = SporeLot.objects.for_list()
    if show in ("kept", "drying"):
        lots = lots.in_store() if show == "kept" else lots.drying()
    elif show == "ended":
        lots = lots.filter(ended_on__isnull=False)
    elif show == "due":
        lots = lots.filter(code__in=[line.code for line in lot_lines(on=on)])
    words = fern.strip()
    if words:
        named = Taxon.objects.named_like(words)
        lots = lots.filter(taxon__in=named) | lots.filter(code__icontains=words)
    return lots


def lot_rows(*, lots: Iterable[SporeLot], on: date) -> list[LotRow]:
    """Return the rows of a page's lots (with their tests at hand); one query for what is due."""
    due = {line.code: line for line in lot_lines(on=on)}
    rows = []
    for lot in lots:
        results = results_of(lot.germination_tests.all())
        rows.append(
            LotRow(
                lot=lot,
                sow_by=sow_by_of(lot),
                due=due.get(lot.code),
                result=results[-1] if results else None,
            )
        )
    return rows


def due_with(*, lot: SporeLot, on: date) -> DueElsewhere | None:
    """Return what is due with one lot on a day; None when it may rest."""
    return next((line for line in lot_lines(on=on) if line.code == lot.code), None)


def results_of(tests: Iterable[GerminationTest]) -> list[TestResult]:
    """Return what counted samples gave, the oldest count first; what waits is left out."""
    found = []
    for test in tests:
        if test.counted is None or test.germinated is None:
            continue
        low, high = wilson(test.germinated, test.counted)
        share = test.germinated / test.counted
        found.append(TestResult(test=test, share=share, low=low, high=high))
    return sorted(found, key=lambda result: result.test.counted_on or date.min)
