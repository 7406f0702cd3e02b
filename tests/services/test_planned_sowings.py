"""Do plans go on the list once, within their days, and what do they take?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.errors import NotPossibleNow, OutOfTime
from batches.models import PlannedSowing
from batches.services.planned_sowings import drop_plan, plan_a_sowing, sowings_ahead
from batches.services.sowing_needs import sowing_needs
from batches.services.sowing_planner import SowingPlan
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    BenchFactory,
    GerminationTestFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db
SOON = TODAY + timedelta(days=10)


def plan(**more) -> SowingPlan:
    given = {
        "taxon": TaxonFactory(), "pots": 400, "by": TODAY + timedelta(days=500), "on": TODAY,
        "asked_chance": 0.9, "trays": 12, "sow_by": SOON, "chance": 0.91, "expected_pots": 500.0,
        "reason": "12 trays reach 400 pots.", "table": (), "yields_from": "9 mats",
    }  # fmt: skip
    return SowingPlan(**(given | more))


def test_a_plan_is_put_on_the_list_once_and_named_near_its_day():
    one = plan()
    for _ in range(2):
        plan_a_sowing(plan=one, sow_on=SOON, by="Una", now=NOW)
    row = PlannedSowing.objects.get()
    assert (row.trays, row.sow_on, row.planned_by) == (12, SOON, "Una")
    assert sowings_ahead(today=TODAY) == (row,)
    assert sowings_ahead(today=TODAY - timedelta(days=30)) == ()


def test_what_is_sown_or_dropped_is_no_longer_ahead():
    row = plan_a_sowing(plan=plan(), sow_on=SOON, by="Una", now=NOW)
    assert drop_plan(plan_id=row.pk, today=TODAY)
    assert not drop_plan(plan_id=row.pk, today=TODAY)
    other = plan_a_sowing(plan=plan(), sow_on=SOON, by="Una", now=NOW)
    PlannedSowing.objects.filter(pk=other.pk).update(batch=BatchFactory())
    assert sowings_ahead(today=SOON) == ()
    assert not drop_plan(plan_id=other.pk, today=TODAY)


def test_a_plan_that_cannot_be_met_or_a_later_day_is_refused():
    with pytest.raises(NotPossibleNow, match="Nothing was put on the list"):
        plan_a_sowing(plan=plan(trays=None, sow_by=None), sow_on=SOON, by="Una", now=NOW)
    for day in (SOON + timedelta(days=1), TODAY - timedelta(days=1)):
        with pytest.raises(OutOfTime, match="too few"):
            plan_a_sowing(plan=plan(), sow_on=day, by="Una", now=NOW)
    assert not PlannedSowing.objects.exists()


def test_spores_and_litres_are_those_of_the_worked_example():
    # Trade facts 10.3 (worked example, recomputed): one tray of 33 × 21 cm, 15 germinable a cm²,
    # germination 60 %: 17,325 spores. 10.4: filling ÷ (1 − .15).
    lot = SporeLotFactory(remaining_mg=5.0)
    GerminationTestFactory(
        lot=lot, sown_on=TODAY - timedelta(days=20), counted_on=TODAY, counted=300, germinated=180
    )
    needs = sowing_needs(taxon=lot.taxon, trays=1, sow_on=TODAY)
    assert needs.spores == 17_325
    assert sowing_needs(taxon=lot.taxon, trays=34, sow_on=TODAY).litres == pytest.approx(100)


def test_a_lot_is_weighed_against_what_trays_took_before():
    lot = SporeLotFactory(remaining_mg=5.0, sow_by=TODAY + timedelta(days=3))
    batch = BatchFactory(taxon=lot.taxon, spore_lot=lot, sown_mg=2.0)
    for _ in range(4):
        TrayFactory(batch=batch)
    BenchFactory()
    (few,) = sowing_needs(taxon=lot.taxon, trays=10, sow_on=TODAY).lots
    (many,) = sowing_needs(taxon=lot.taxon, trays=11, sow_on=SOON).lots
    assert (few.mg_needed, few.enough, few.sow_by_over) == (5.0, True, False)
    assert (many.mg_needed, many.enough, many.sow_by_over) == (5.5, False, True)


def test_an_unweighed_lot_promises_nothing():
    lot = SporeLotFactory(remaining_mg=None, mass_mg=None)
    (one,) = sowing_needs(taxon=lot.taxon, trays=3, sow_on=TODAY).lots
    assert (one.mg_needed, one.enough, one.germination) == (None, None, None)
