"""Does the weekly note count what moved on, was lost, left, comes ready and is to be sown?"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from batches.core.errors import NotUnderstood
from batches.models import PlannedSowing, StageTransition
from batches.services.weekly_note import week_named, weekly_note
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    PlantMovementFactory,
    SporeLotFactory,
    StageTransitionFactory,
    TaxonFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db
MONDAY = TODAY - timedelta(days=TODAY.weekday())
LAST_MONDAY = MONDAY - timedelta(days=7)


def test_a_week_is_named_by_iso_8601() -> None:
    """Source: ISO 8601; 2026-W53 begins on 28 December 2026 (week calendar, calculated)."""
    assert week_named("", today=date(2026, 11, 25)) == date(2026, 11, 23)
    assert week_named("2026-W48", today=date(2026, 11, 25)) == date(2026, 11, 23)
    assert week_named("2026-W53", today=date(2027, 1, 3)) == date(2026, 12, 28)
    for text in ("2026", "2026-W54", "x-Wy", "2026-W49"):
        with pytest.raises(NotUnderstood):
            week_named(text, today=date(2026, 11, 25))


def test_passages_of_the_week_are_counted_by_fern_and_stage() -> None:
    fern = TaxonFactory()
    for _ in range(3):
        tray = TrayFactory(batch=BatchFactory(taxon=fern))
        StageTransitionFactory(
            tray=tray, from_stage="sown", to_stage="gametophyte", seen_on=LAST_MONDAY
        )
    struck = StageTransition.objects.first()
    assert struck is not None
    StageTransition.objects.create(
        tray=struck.tray, from_stage="sown", to_stage="gametophyte", seen_on=LAST_MONDAY,
        strikes_out=struck, recorded_at=NOW,
    )  # fmt: skip
    other = TrayFactory()
    StageTransitionFactory(
        tray=other, from_stage="sown", to_stage="gametophyte", seen_on=MONDAY
    )  # of this week, not of the last
    note = weekly_note(monday=LAST_MONDAY, today=TODAY)
    assert [(one.taxon, one.stage, one.trays) for one in note.moved_on] == [
        (fern, "gametophyte", 2)
    ]
    assert note.over


def test_losses_are_told_by_cause_with_trays_thrown_out() -> None:
    tray = TrayFactory(counted=60, unit="patches")
    for many in (4, 5):
        PlantMovementFactory(tray=tray, on=MONDAY, kind="loss", quantity=many, cause="mould")
    PlantMovementFactory(tray=tray, on=LAST_MONDAY, kind="loss", quantity=7, cause="mould")
    TrayFactory(batch=tray.batch, ended_on=MONDAY, end="discarded", end_cause="no_germination")
    note = weekly_note(monday=MONDAY, today=TODAY)
    assert [(one.cause, one.counted, one.trays) for one in note.lost] == [
        ("mould", ((9, "patches"),), 0),
        ("no_germination", (), 1),
    ]


def test_what_left_and_what_comes_ready_is_told_in_pots() -> None:
    carrier = TrayFactory(
        carrier=True, batch__route="bought_in", counted=40, expected_on=TODAY + timedelta(days=10)
    )
    PlantMovementFactory(tray=carrier, on=MONDAY, kind="dispatch", quantity=12)
    TrayFactory(
        carrier=True, batch=carrier.batch, expected_on=TODAY + timedelta(days=12)
    )  # uncounted
    TrayFactory(carrier=True, batch=carrier.batch, expected_on=TODAY + timedelta(days=90))
    note = weekly_note(monday=MONDAY, today=TODAY)
    assert [(one.pot_size, one.pots) for one in note.left] == [("9 cm", 12)]
    assert [(one.pots, one.trays, one.uncounted) for one in note.comes_ready] == [(40, 2, 1)]


def test_planned_sowings_and_lots_whose_spores_fade_are_to_be_sown() -> None:
    near = SporeLotFactory(sow_by=TODAY + timedelta(days=5))
    SporeLotFactory(sow_by=TODAY + timedelta(days=300))
    SporeLotFactory(sow_by=TODAY + timedelta(days=5), ended_on=TODAY)
    PlannedSowing.objects.create(
        taxon=near.taxon, trays=3, sow_on=TODAY, planned_by="Odile Marsh", planned_at=NOW
    )
    note = weekly_note(monday=MONDAY, today=TODAY)
    assert [lot for lot, _ in note.lots] == [near]
    assert [plan.trays for plan in note.to_sow] == [3]


@pytest.mark.parametrize("how_many", [3, 30])
def test_it_asks_the_same_of_3_and_30_trays(how_many, django_assert_num_queries) -> None:
    for _ in range(how_many):
        tray = TrayFactory(started_on=MONDAY, counted=9)
        PlantMovementFactory(tray=tray, on=MONDAY, kind="loss", quantity=1, cause="rot")
        StageTransitionFactory(tray=tray, from_stage="sown", to_stage="gametophyte", seen_on=MONDAY)
    with django_assert_num_queries(10):
        weekly_note(monday=MONDAY, today=TODAY)
