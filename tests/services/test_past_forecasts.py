"""Is a past forecast made from what was seen by then, and judged to both sides?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.forecast import Band
from batches.services import standing
from batches.services.past_forecasts import PastBand, hit_rate, past_bands, past_days
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    TaxonFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)

pytestmark = pytest.mark.django_db


def pots_that_became_ready(*, started_ago: int, ready_ago: int, counted: int = 40, taxon=None):
    start = TODAY - timedelta(days=started_ago)
    batch = BatchFactory(taxon=taxon or TaxonFactory(), started_on=start)
    tray = TrayFactory(batch=batch, carrier=True, counted=counted, started_on=start)
    TrayCheckFactory(tray=tray, seen_at=at(TODAY - timedelta(days=ready_ago + 6)))
    TrayCheckFactory(tray=tray, seen_at=at(TODAY - timedelta(days=ready_ago)), stage_seen="ready")
    standing.refold(trays=[tray], recorded_at=NOW)
    return tray


def test_a_young_nursery_has_nothing_to_look_back_on():
    assert past_days(today=TODAY) == ()
    pots_that_became_ready(started_ago=200, ready_ago=20)
    assert past_days(today=TODAY) == ()
    assert list(past_bands(today=TODAY)) == []


def test_each_past_day_is_laid_against_what_came_in_the_weeks_after_it():
    taxon = TaxonFactory()
    pots_that_became_ready(started_ago=700, ready_ago=520, taxon=taxon)
    tray = pots_that_became_ready(started_ago=250, ready_ago=60, taxon=taxon)
    first, *_ = past_bands(today=TODAY)
    (band,) = first
    assert band.on == TODAY - timedelta(weeks=12)
    assert band.taxon == tray.batch.taxon
    # The tray was seen ready 60 days ago, 24 days after that day: its 40 pots came.
    assert band.came == 40
    assert 0 <= band.band.low <= band.band.high <= 40


def test_misses_are_told_apart_by_their_side():
    taxon = TaxonFactory()
    bands = tuple(
        PastBand(on=TODAY, taxon=taxon, band=Band(low=10, likely=15, high=20), came=came)
        for came in (10, 20, 15, 9, 21, 30)
    )
    assert [band.verdict for band in bands] == [
        "held", "held", "held", "fewer came", "more came", "more came",
    ]  # fmt: skip
    rate = hit_rate(bands)
    assert (rate.bands, rate.held, rate.fewer_came, rate.more_came) == (6, 3, 1, 2)
    assert rate.share == 0.5
    assert hit_rate(()).share is None
