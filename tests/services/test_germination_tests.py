"""Is a sample counted once, and never more of it than was sown?"""

from __future__ import annotations

import uuid
from datetime import date, timedelta
from typing import Any

import pytest

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import GerminationTest
from batches.services.germination_tests import count_test, sow_test
from batches.services.lot_list import results_of
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def test_a_sample_waits_and_is_counted():
    lot = make.SporeLotFactory()
    test = sow_test(lot=lot, sown_on=TODAY - timedelta(days=21), now=NOW)
    assert (test.counted_on, test.days) == (None, None)
    done = count_test(test=test, counted_on=TODAY, counted=300, germinated=0, now=NOW)
    assert (done.germinated, done.days) == (0, 21)


def test_the_same_sample_sent_twice_is_one():
    lot, record_id = make.SporeLotFactory(), uuid.uuid4()
    first = sow_test(lot=lot, sown_on=TODAY, now=NOW, record_id=record_id)
    assert sow_test(lot=lot, sown_on=TODAY, now=NOW, record_id=record_id) == first
    assert GerminationTest.objects.count() == 1
    with pytest.raises(AlreadyTaken):
        sow_test(lot=make.SporeLotFactory(), sown_on=TODAY, now=NOW, record_id=record_id)


@pytest.mark.parametrize(
    ("more", "error", "field"),
    [
        ({"counted_on": TODAY + timedelta(days=1)}, OutOfTime, "counted_on"),
        ({"counted_on": date(2026, 5, 1)}, OutOfTime, "counted_on"),
        ({"counted": 0, "germinated": 0}, NotUnderstood, "counted"),
        ({"germinated": 301}, NotUnderstood, "germinated"),
        ({"germinated": -1}, NotUnderstood, "germinated"),
    ],
)
def test_a_count_that_cannot_be_is_refused(more, error, field):
    test = sow_test(lot=make.SporeLotFactory(), sown_on=date(2026, 5, 20), now=NOW)
    given: dict[str, Any] = {"counted_on": TODAY, "counted": 300, "germinated": 100} | more
    with pytest.raises(error) as refused:
        count_test(test=test, now=NOW, **given)
    assert refused.value.field == field
    test.refresh_from_db()
    assert test.counted_on is None


def test_a_sample_is_counted_once():
    test = make.GerminationTestFactory()
    with pytest.raises(NotPossibleNow, match="counted already"):
        count_test(test=test, counted_on=TODAY, counted=10, germinated=1, now=NOW)


def test_no_sample_is_sown_before_the_lot_was_or_after_it_ended():
    lot = make.SporeLotFactory(ended_on=date(2026, 6, 1))
    with pytest.raises(OutOfTime, match="collected on Mon 11 Aug 2025"):
        sow_test(lot=lot, sown_on=date(2025, 8, 10), now=NOW)
    with pytest.raises(NotPossibleNow, match="ended on Mon 1 Jun 2026"):
        sow_test(lot=lot, sown_on=TODAY, now=NOW)


def test_the_likely_share_is_wilsons_interval():
    lot = make.SporeLotFactory()
    make.GerminationTestFactory(lot=lot, counted=148, germinated=15)
    make.GerminationTestFactory(lot=lot, counted_on=None, counted=None, germinated=None)
    (result,) = results_of(lot.germination_tests.all())
    # Newcombe (1998), Stat. Med. 17, 857-872, table I, method 3: 15 of 148 gives 0.0624 to 0.1605.
    assert (round(result.low, 4), round(result.high, 4)) == (0.0624, 0.1605)
    assert result.share == pytest.approx(15 / 148)
