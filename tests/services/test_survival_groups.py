"""Are rates parted by lot, medium and house, and losses summed by month and cause?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.stages import Stage
from batches.services import standing
from batches.services.survival_groups import losses_by_month, rates_by
from tests.factories import (
    NOW,
    STARTED_ON,
    TODAY,
    BatchFactory,
    BenchFactory,
    ParentageFactory,
    PlantMovementFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db


def gone(*, entered: int, moved: int, **more):
    """A cell tray that was potted up and cleared."""
    tray = TrayFactory(
        batch=BatchFactory(), cells_of_84=True, counted=entered, ended_on=TODAY, end="cleared",
        **more,
    )  # fmt: skip
    if entered > moved:
        PlantMovementFactory(
            tray=tray, on=STARTED_ON, kind="loss", quantity=entered - moved, cause="rot"
        )
    pots = TrayFactory(batch=tray.batch, carrier=True, started_on=TODAY)
    ParentageFactory(parent=tray, child=pots)
    PlantMovementFactory(tray=tray, on=TODAY, kind="out", quantity=moved, to_tray=pots)
    standing.refold(trays=[tray], recorded_at=NOW)
    return tray


def test_each_lot_medium_and_house_has_a_line_of_its_own():
    one = gone(entered=100, moved=90, bench=BenchFactory())
    other = gone(entered=80, moved=20, bench=BenchFactory())
    for group, name in (
        ("lot", lambda tray: tray.batch.spore_lot.code),
        ("house", lambda tray: tray.bench.house.code),
        ("medium", lambda tray: tray.medium.code if tray.medium else None),
    ):
        found = {
            row.group: row.estimate.rate
            for row in rates_by(group=group, on=TODAY)
            if row.from_stage is Stage.PRICKED_OUT
        }
        named = {name(one): 0.9, name(other): 0.25}
        assert found == pytest.approx({key: rate for key, rate in named.items() if key})


def test_a_fern_narrows_the_groups():
    one = gone(entered=100, moved=90)
    gone(entered=80, moved=20)
    rows = rates_by(group="lot", on=TODAY, taxon=one.batch.taxon)
    assert {row.group for row in rows} == {one.batch.spore_lot.code}


def test_losses_stand_in_their_month_under_their_cause():
    tray = TrayFactory(cells_of_84=True, counted=60)
    last_month = TODAY.replace(day=1) - timedelta(days=1)
    for day, cause, plants in (
        (TODAY, "rot", 4), (TODAY, "", 1), (last_month, "rot", 7),
        (TODAY - timedelta(days=800), "rot", 9),
    ):  # fmt: skip
        PlantMovementFactory(tray=tray, on=day, kind="loss", quantity=plants, cause=cause)
    months = losses_by_month(on=TODAY)
    assert len(months) == 12
    assert months[-1].by_cause == {"rot": 4, "no cause noted": 1}
    assert (months[-2].by_cause, months[-2].total) == ({"rot": 7}, 7)
    assert sum(month.total for month in months) == 12
