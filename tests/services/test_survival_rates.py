"""Are the rates those of counted trays that have left a stage?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.stages import Stage
from batches.services import standing
from batches.services.survival_rates import survival_rates
from tests.factories import (
    NOW,
    STARTED_ON,
    TODAY,
    BatchFactory,
    ParentageFactory,
    PlantMovementFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db


def potted(cells, *, left: int, arrived: int | None = None):
    pots = TrayFactory(batch=cells.batch, carrier=True, started_on=TODAY)
    ParentageFactory(parent=cells, child=pots)
    PlantMovementFactory(
        tray=cells, on=TODAY, kind="out", quantity=left, arrived=arrived, to_tray=pots
    )
    return pots


def rate(found, stage):
    return next(row.estimate for row in found if row.from_stage is stage)


def test_only_trays_that_have_left_count_and_units_do_not_mix():
    batch = BatchFactory()
    gone = TrayFactory(batch=batch, cells_of_84=True, counted=300, ended_on=TODAY, end="cleared")
    PlantMovementFactory(tray=gone, on=STARTED_ON, kind="loss", quantity=60)
    potted(gone, left=240, arrived=80)
    TrayFactory(batch=batch, cells_of_84=True, counted=500)
    standing.refold(trays=[gone], recorded_at=NOW)
    estimate = rate(survival_rates(on=TODAY), Stage.PRICKED_OUT)
    assert (estimate.trays, estimate.plants_in, estimate.plants_out) == (1, 300, 240)
    assert estimate.rate == pytest.approx(0.8)
    assert estimate.low < 0.8 < estimate.high


def test_on_a_past_day_what_left_later_has_not_left():
    batch = BatchFactory()
    gone = TrayFactory(batch=batch, cells_of_84=True, counted=100, ended_on=TODAY, end="cleared")
    potted(gone, left=100)
    standing.refold(trays=[gone], recorded_at=NOW)
    assert survival_rates(on=TODAY - timedelta(days=1)) == ()
    assert rate(survival_rates(on=TODAY), Stage.PRICKED_OUT).rate == 1.0


def test_a_tray_emptied_by_potting_up_has_left_without_being_ended():
    batch = BatchFactory()
    gone = TrayFactory(batch=batch, cells_of_84=True, counted=100)
    PlantMovementFactory(tray=gone, on=TODAY, kind="loss", quantity=10)
    potted(gone, left=90)
    standing.refold(trays=[gone], recorded_at=NOW)
    assert rate(survival_rates(on=TODAY), Stage.PRICKED_OUT).plants_out == 90


def test_queries_do_not_grow_with_the_trays(django_assert_max_num_queries):
    batch = BatchFactory()

    def more(how_many):
        for _ in range(how_many):
            gone = TrayFactory(
                batch=batch, cells_of_84=True, counted=10, ended_on=TODAY, end="cleared"
            )
            potted(gone, left=9)

    more(3)
    with django_assert_max_num_queries(8) as few:
        survival_rates(on=TODAY)
    more(27)
    with django_assert_max_num_queries(len(few)):
        assert rate(survival_rates(on=TODAY), Stage.PRICKED_OUT).trays == 30
