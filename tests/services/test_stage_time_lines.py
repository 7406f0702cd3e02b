"""Are stage times said rightly, and are days adopted only where they differ?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.errors import NotPossibleNow
from batches.core.stages import Route, Stage
from batches.models import OwnWindow, StageFit
from batches.services import standing
from batches.services.refits import refit_due
from batches.services.stage_time_lines import adopt_days, in_one_sentence, times_lines
from tests.factories import NOW, TODAY, BatchFactory, TrayCheckFactory, TrayFactory, at

pytestmark = pytest.mark.django_db


def green_after(days: range, *, ago: int = 100):
    """One tray a day of the range, looked at every second day until it was green."""
    start = TODAY - timedelta(days=ago)
    batch = BatchFactory(started_on=start)
    trays = []
    for green in days:
        tray = TrayFactory(batch=batch, started_on=start, stage_seen_on=start)
        for day in range(2, green + 2, 2):
            seen = "gametophyte" if day >= green else ""
            TrayCheckFactory(tray=tray, seen_at=at(start + timedelta(days=day)), stage_seen=seen)
        trays.append(tray)
    standing.refold(trays=trays, recorded_at=NOW)
    return batch


def first_line(batch):
    return next(
        line for line in times_lines(on=TODAY, taxon=batch.taxon) if line.times.stage is Stage.SOWN
    )


def test_a_fern_quicker_than_its_window_is_flagged_with_days_that_fit():
    # The default window is 10, 28 and 90 days; half of these were green by day 14.
    line = first_line(green_after(range(9, 21)))
    assert line.adopt is not None
    early, usual, late = line.adopt
    assert 7 <= early <= 12
    assert 13 <= usual <= 16
    assert 18 <= late <= 24


def test_a_fern_that_fits_its_window_is_not_flagged():
    assert first_line(green_after(range(22, 34))).adopt is None


def test_a_few_quick_trays_are_not_enough_to_adopt():
    batch = green_after(range(12, 17))
    assert first_line(batch).adopt is None
    with pytest.raises(NotPossibleNow, match="Nothing was changed"):
        adopt_days(taxon=batch.taxon, route=Route.SPORE, stage=Stage.SOWN, on=TODAY)
    assert not OwnWindow.objects.exists()


def test_adopted_days_become_the_ferns_own_and_its_times_are_reckoned_anew():
    batch = green_after(range(9, 21))
    refit_due(on=TODAY, now=NOW)
    own = adopt_days(taxon=batch.taxon, route=Route.SPORE, stage=Stage.SOWN, on=TODAY)
    row = OwnWindow.objects.get(taxon=batch.taxon)
    assert (row.stage, row.early, row.late) == ("sown", own.early, own.late)
    assert refit_due(on=TODAY, now=NOW).fits > 0
    assert StageFit.objects.get(taxon=batch.taxon, stage="sown").window_late == own.late
    assert first_line(batch).adopt is None


def test_the_sentences_name_days_and_trays():
    batch = green_after(range(9, 21))
    line = first_line(batch)
    half = round(line.times.estimate.expected_days)
    assert f"have green by day {half}, nine in ten by day" in line.sentence
    said = in_one_sentence(times_lines(on=TODAY, taxon=batch.taxon))
    assert said.startswith("Raised from spores, it takes some")
    assert f"{half} to green" in said
    assert "12 trays" in said


def test_what_became_of_the_trays_adds_up():
    fate = first_line(green_after(range(9, 21))).fate
    assert fate is not None
    assert fate.moved_on + fate.lost + fate.still_there == pytest.approx(1)
