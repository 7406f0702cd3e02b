"""Do the numbers stand hard input: nothing, everything waiting, everything lost, wrong clocks?"""

from __future__ import annotations

import math
from datetime import timedelta

import pytest

from batches.core.stages import Route, Stage
from batches.services import standing
from batches.services.failing_trays import what_trays_share
from batches.services.forecasting import forecast_nursery
from batches.services.refits import refit
from batches.services.sowing_planner import plan_for
from batches.services.stage_time_lines import times_lines
from batches.services.stage_times import stage_times
from batches.services.survival_rates import survival_rates
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    PlantMovementFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)

pytestmark = pytest.mark.django_db


def sown(batch, *, ago=100, looks=(), green=None, **more):
    start = TODAY - timedelta(days=ago)
    tray = TrayFactory(batch=batch, started_on=start, stage_seen_on=start, **more)
    for day in looks:
        seen = "gametophyte" if green is not None and day >= green else ""
        TrayCheckFactory(tray=tray, seen_at=at(start + timedelta(days=day)), stage_seen=seen)
    return tray


def batch_of(ago=100, **more):
    return BatchFactory(started_on=TODAY - timedelta(days=ago), **more)


def fold(*trays):
    standing.refold(trays=trays, recorded_at=NOW)


def everything(taxon=None):
    """Ask every question; whatever the records, each is answered with finite numbers."""
    refit(on=TODAY, now=NOW)
    times = times_lines(on=TODAY)
    for line in times:
        estimate = line.times.estimate
        assert 0 < estimate.expected_days < estimate.late_after_days < math.inf
        assert estimate.seen + estimate.still_waiting + estimate.lost == estimate.trays
        assert 0 <= estimate.stalled_share < 1
    for row in survival_rates(on=TODAY):
        assert 0 <= row.estimate.low <= row.estimate.high
        assert 0 <= row.estimate.expected_rate <= 1 or (row.estimate.rate or 0) > 1
    found = forecast_nursery(on=TODAY, weeks=20, draws=100)
    for drawn in found.ferns.values():
        for band in drawn.cumulative():
            assert 0 <= band.low <= band.likely <= band.high < math.inf
    if taxon is not None:
        plan = plan_for(taxon=taxon, pots=50, by=TODAY + timedelta(days=900), on=TODAY, draws=200)
        assert (plan.trays is None) == (plan.sow_by is None)
    return times


def test_nothing_at_all():
    assert everything(TaxonFactory()) == ()
    assert what_trays_share(sign="mould", since=TODAY, on=TODAY).found.lines == ()


def test_one_tray_never_looked_at():
    batch = batch_of()
    fold(sown(batch))
    (line,) = everything(batch.taxon)
    assert (line.times.estimate.trays, line.times.estimate.basis) == (
        1, "1 tray here and the default window",
    )  # fmt: skip


def test_all_trays_waiting_raise_the_stalled_share_and_are_not_said_to_move_on():
    batch = batch_of(ago=300)
    fold(*[sown(batch, ago=300, looks=range(7, 300, 7)) for _ in range(12)])
    (line,) = everything(batch.taxon)
    estimate = line.times.estimate
    assert (estimate.seen, estimate.median_low) == (0, None)
    assert estimate.stalled_share > 0.1


def test_all_trays_lost():
    batch = batch_of()
    fold(*[
        sown(batch, looks=(7, 14), ended_on=TODAY, end="discarded", end_cause="mould")
        for _ in range(6)
    ])  # fmt: skip
    (line,) = everything(batch.taxon)
    assert line.times.estimate.lost == 6
    assert line.fate is not None
    assert line.fate.lost == pytest.approx(1)


def test_plants_all_lost_give_a_rate_of_nothing_with_a_range():
    cells = TrayFactory(
        batch=BatchFactory(), cells_of_84=True, counted=80, ended_on=TODAY, end="discarded",
        end_cause="rot",
    )  # fmt: skip
    PlantMovementFactory(tray=cells, on=TODAY, kind="loss", quantity=80, cause="rot")
    fold(cells)
    everything(cells.batch.taxon)
    (row,) = survival_rates(on=TODAY)
    assert (row.estimate.rate, row.estimate.low) == (0.0, 0.0)
    assert 0 < row.estimate.high < 1
    assert row.estimate.expected_rate > 0


def test_all_looks_on_one_day():
    batch = batch_of()
    fold(*[sown(batch, looks=(30,), green=30) for _ in range(8)])
    times = everything(batch.taxon)
    first = times[0].times.estimate
    assert (first.median_low, first.median_high) == (0, 30)


def test_a_look_months_late_neither_speeds_nor_slows_the_fern():
    batch = batch_of(ago=300)
    prompt = [sown(batch, ago=300, looks=range(7, 36, 7), green=28) for _ in range(10)]
    fold(*prompt)
    before = stage_times(on=TODAY)[0].estimate.expected_days
    fold(sown(batch, ago=300, looks=(200,), green=200))
    after = stage_times(on=TODAY)[0].estimate.expected_days
    assert after == pytest.approx(before, rel=0.05)


def test_a_stage_never_seen_is_answered_by_its_window():
    batch = batch_of()
    fold(sown(batch, looks=(7, 14), green=14))
    times = everything(batch.taxon)
    assert {line.times.stage for line in times} == {Stage.SOWN, Stage.GAMETOPHYTE}
    plan = plan_for(
        taxon=batch.taxon, pots=20, by=TODAY + timedelta(days=1_500), on=TODAY, draws=200
    )
    assert plan.trays is not None
    assert "usual yields, none of this nursery yet" in plan.reason


def test_looks_from_a_clock_gone_wrong_do_not_break_a_fern():
    batch = batch_of()
    good = [sown(batch, looks=range(7, 36, 7), green=28) for _ in range(6)]
    wrong = sown(batch)
    # A tablet that believed it was 2001: the look lies before the tray was started.
    TrayCheckFactory(
        tray=wrong, seen_at=at(TODAY - timedelta(days=9_000)), stage_seen="gametophyte"
    )
    fold(*good, wrong)
    everything(batch.taxon)
    estimate = stage_times(on=TODAY)[0].estimate
    assert 15 < estimate.expected_days < 40


def test_a_fern_of_two_origins_is_one_fern():
    taxon = TaxonFactory()
    for lot in (SporeLotFactory(taxon=taxon), SporeLotFactory(taxon=taxon)):
        batch = batch_of(taxon=taxon, spore_lot=lot)
        fold(*[sown(batch, looks=range(7, 36, 7), green=28) for _ in range(5)])
    rows = [row for row in stage_times(on=TODAY) if row.stage is Stage.SOWN]
    assert [(row.taxon, row.route, row.estimate.trays) for row in rows] == [
        (taxon, Route.SPORE, 10)
    ]


def test_origins_that_behave_differently_are_one_fern_and_are_said_to_differ():
    taxon = TaxonFactory()
    quick, slow = SporeLotFactory(taxon=taxon), SporeLotFactory(taxon=taxon)
    for lot, green in ((quick, 21), (slow, 70)):
        batch = batch_of(taxon=taxon, spore_lot=lot)
        fold(*[sown(batch, looks=range(7, 91, 7), green=green) for _ in range(8)])
    everything(taxon)
    line = next(one for one in times_lines(on=TODAY, taxon=taxon) if one.times.stage is Stage.SOWN)
    estimate = line.times.estimate
    # One set of dates: between the two at half, and past the slow ones where a tray is late.
    assert 21 < estimate.expected_days < 70 < estimate.late_after_days
    assert f"half of the trays of {quick.source.code} were through by day 1" in line.origins
    assert f"of {slow.source.code} by day 6" in line.origins
    assert not any(one.origins for one in times_lines(on=TODAY))


def test_a_control_tray_teaches_nothing():
    batch = batch_of()
    fold(sown(batch, looks=range(7, 90, 7), control=True))
    assert everything(batch.taxon) == ()
