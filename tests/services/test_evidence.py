"""Is what is read in brief what all looks together would say?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.stages import Stage
from batches.models import StageTransition
from batches.services.evidence import gather
from batches.services.proved_passages import proved
from batches.services.standing import refold
from tests.factories import NOW, TODAY, BatchFactory, TrayCheckFactory, TrayFactory, at

pytestmark = pytest.mark.django_db
START = TODAY - timedelta(days=100)


def day(number: int):
    return START + timedelta(days=number)


@pytest.fixture
def tray():
    """Looked at on days 10 and 40, green on the second."""
    found = TrayFactory(batch=BatchFactory(started_on=START), started_on=START, stage_seen_on=START)
    TrayCheckFactory(tray=found, seen_at=at(day(10)))
    TrayCheckFactory(tray=found, seen_at=at(day(40)), stage_seen="gametophyte")
    TrayCheckFactory(tray=found, seen_at=at(day(45)), glance=True)
    refold(trays=[found], recorded_at=NOW)
    return found


def test_no_look_is_read_of_a_tray_with_nothing_later(tray):
    one = gather([tray.pk], until=TODAY, in_brief=True)[tray.pk]
    assert (one.brief, one.looks, one.last_close_look_on) == (True, [], day(40))
    whole = gather([tray.pk], until=TODAY)[tray.pk]
    assert (len(whole.looks), whole.last_close_look_on) == (3, day(40))
    assert [row.passage for row in one.stated] == [
        row.passage for row in whole.stated
    ]  # what the looks prove is stored
    assert {move.to_stage for move in proved(whole)} == {Stage.GAMETOPHYTE}


def test_of_a_day_before_the_last_look_its_looks_are_read(tray):
    one = gather([tray.pk], until=day(41), in_brief=True)[tray.pk]
    assert (one.brief, len(one.looks)) == (False, 2)
    assert gather([tray.pk], until=day(20), in_brief=True)[tray.pk].last_close_look_on == day(10)


def test_what_was_stated_later_makes_the_looks_speak_again(tray):
    """Stated for a later day, the passage is no longer derived from the look that showed it."""
    StageTransition.objects.create(
        tray=tray, from_stage="sown", to_stage="gametophyte", seen_on=day(60), recorded_at=NOW
    )
    refold(trays=[tray], recorded_at=NOW)
    one = gather([tray.pk], until=day(50), in_brief=True)[tray.pk]
    assert (one.later, one.brief, one.stated) == (True, False, [])
    assert [move.seen_on for move in proved(one)] == [day(40)]
