"""Do due dates follow what this nursery's trays taught?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.stages import Route, Stage
from batches.models import StageFit, Taxon
from batches.services import standing
from batches.services.outlooks import load_outlooks
from batches.services.past_outlooks import outlooks_as_of
from batches.services.refits import refit, refit_due
from batches.services.stage_times import intervals_by_stage
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    ParentageFactory,
    PlantMovementFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)

pytestmark = pytest.mark.django_db


def sown(batch, *, ago, green_after=None, every=7, **more):
    """A tray looked at weekly, green at the first look after so many days."""
    start = TODAY - timedelta(days=ago)
    one = TrayFactory(batch=batch, started_on=start, stage_seen_on=start, **more)
    for day in range(every, ago + 1, every):
        green = green_after is not None and day >= green_after
        TrayCheckFactory(
            tray=one, seen_at=at(start + timedelta(days=day)),
            stage_seen="gametophyte" if green else "",
        )  # fmt: skip
        if green:
            break
    return one


@pytest.fixture
def quick():
    """Twelve trays of a fern that is green within five weeks, and one that waits."""
    batch = BatchFactory(started_on=TODAY - timedelta(days=80))
    trays = [sown(batch, ago=80, green_after=after) for after in range(20, 32)]
    waiting = sown(batch, ago=70)
    standing.refold(trays=[*trays, waiting], recorded_at=NOW)
    return batch, trays, waiting


def test_rows_are_intervals_from_the_last_look_without_to_the_first_with(quick):
    batch, _, _ = quick
    rows = intervals_by_stage(on=TODAY)[batch.taxon_id, Route.SPORE, Stage.SOWN]
    seen = sorted((row.left, row.right) for row in rows if row.ending == "seen")
    assert seen == [(14.0, 21.0)] * 2 + [(21.0, 28.0)] * 7 + [(28.0, 35.0)] * 3
    assert [row.left for row in rows if row.ending == "waiting"] == [70.0]


def test_a_refit_moves_the_late_day_of_the_tray_that_waits(quick):
    batch, _, waiting = quick
    waiting.refresh_from_db()
    assert waiting.late_on == waiting.started_on + timedelta(days=90)
    refit(on=TODAY, now=NOW)
    waiting.refresh_from_db()
    fit = StageFit.objects.get(taxon=batch.taxon, stage="sown")
    assert (fit.trays, fit.own) == (13, True)
    assert 28 < fit.late_days < 45
    assert waiting.late_on < waiting.started_on + timedelta(days=46)
    assert standing.differing()[1] == ()


def test_only_ferns_that_were_touched_are_reckoned_again(quick):
    batch, _, waiting = quick
    assert refit_due(on=TODAY, now=NOW).fits > 0
    assert refit_due(on=TODAY, now=NOW).fits == 0
    TrayCheckFactory(tray=waiting, seen_at=at(TODAY), stage_seen="gametophyte")
    standing.refold(trays=[waiting], recorded_at=NOW)
    assert list(Taxon.objects.filter(fit_due=True)) == [batch.taxon]
    assert refit_due(on=TODAY, now=NOW).fits == 2


def test_a_fern_without_records_behaves_exactly_like_its_default_window(quick):
    refit(on=TODAY, now=NOW)
    other = TaxonFactory()
    outlook = load_outlooks([other.pk]).of(other, Route.SPORE, Stage.SOWN)
    assert outlook is not None
    assert (outlook.late_days, outlook.basis) == (90, "default window")


def test_a_past_day_is_reckoned_from_what_was_seen_by_then(quick):
    batch, _, _ = quick
    early = outlooks_as_of(TODAY - timedelta(days=65)).of(batch.taxon, Route.SPORE, Stage.SOWN)
    assert early is not None
    assert early.late_days > 80


def test_discards_surplus_and_no_germination_end_a_row_each_in_its_way():
    batch = BatchFactory(started_on=TODAY - timedelta(days=80))
    for cause in ("mould", "surplus", "no_germination"):
        sown(batch, ago=80, ended_on=TODAY, end="discarded", end_cause=cause)
    rows = intervals_by_stage(on=TODAY)[batch.taxon_id, Route.SPORE, Stage.SOWN]
    assert sorted(row.ending for row in rows) == ["lost", "no_germination", "waiting"]
    assert {row.left for row in rows} == {80.0}


def test_the_first_picking_dates_prick_out_and_the_mat_counts_once():
    batch = BatchFactory(started_on=TODAY - timedelta(days=200))
    mat = sown(batch, ago=200, green_after=21)
    TrayCheckFactory(tray=mat, seen_at=at(TODAY - timedelta(days=100)), stage_seen="first_frond")
    for ago in (40, 10):
        cells = TrayFactory(
            batch=batch, cells_of_84=True, started_on=TODAY - timedelta(days=ago), counted=None
        )
        ParentageFactory(parent=mat, child=cells)
        PlantMovementFactory(
            tray=mat, on=TODAY - timedelta(days=ago), kind="out", quantity=30, to_tray=cells
        )
    standing.refold(trays=[mat], recorded_at=NOW)
    rows = intervals_by_stage(on=TODAY)
    (row,) = rows[batch.taxon_id, Route.SPORE, Stage.FIRST_FROND]
    assert (row.ending, row.right - row.left) == ("seen", 1.0)
    assert len(rows[batch.taxon_id, Route.SPORE, Stage.PRICKED_OUT]) == 2


def test_a_patched_out_mat_lends_its_clock_and_has_no_row_of_its_own():
    batch = BatchFactory(started_on=TODAY - timedelta(days=120))
    mat = sown(batch, ago=120, green_after=21, ended_on=TODAY - timedelta(days=60), end="cleared")
    patch = TrayFactory(
        batch=batch, started_on=TODAY - timedelta(days=60), start_stage="gametophyte"
    )
    ParentageFactory(parent=mat, child=patch)
    TrayCheckFactory(tray=patch, seen_at=at(TODAY))
    standing.refold(trays=[mat, patch], recorded_at=NOW)
    (row,) = intervals_by_stage(on=TODAY)[batch.taxon_id, Route.SPORE, Stage.GAMETOPHYTE]
    # Green between day 14 and 21 of 120: the clock has run since day 17.5.
    assert (row.ending, row.left) == ("waiting", 120 - 17.5)
