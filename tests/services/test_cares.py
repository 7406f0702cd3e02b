"""Are reminders off until the nursery wants them, one line a tray, and ticked off once?"""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.models import CareDone
from batches.services import standing
from batches.services.cares import give_care, set_reminder
from batches.services.overdue import overdue_lines
from tests.factories import NOW, TODAY, TrayFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def pots():
    start = TODAY - timedelta(days=30)
    one = TrayFactory(carrier=True, counted=40, started_on=start)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


def cares(on=TODAY, today=TODAY):
    return [line for line in overdue_lines(on=on, today=today) if line.kind == "care"]


def test_nothing_until_it_is_turned_on_and_then_the_most_pressing_first(pots):
    assert cares() == []
    set_reminder(route="spore", care="feed", enabled=True)
    set_reminder(route="spore", care="slow_release", enabled=True)
    (line,) = cares()
    assert (line.tray, line.care, line.days_late) == (pots.code, "slow_release", 16)
    give_care(tray=pots, care="slow_release", on=TODAY, by="Bryn", now=NOW)
    (line,) = cares()
    assert line.care == "feed"
    give_care(tray=pots, care="feed", on=TODAY, by="Bryn", now=NOW)
    assert cares() == []
    assert len(cares(on=TODAY - timedelta(days=1))) == 1


def test_the_same_id_twice_is_once(pots):
    record_id = uuid4()
    for _ in range(2):
        give_care(tray=pots, care="feed", on=TODAY, by="Bryn", now=NOW, record_id=record_id)
    assert CareDone.objects.count() == 1


def test_what_cannot_be_is_refused(pots):
    with pytest.raises(NotUnderstood):
        give_care(tray=pots, care="sing", on=TODAY, by="Bryn", now=NOW)
    with pytest.raises(NotUnderstood):
        set_reminder(route="spore", care="sing", enabled=True)
    pots.ended_on, pots.end = TODAY, "discarded"
    pots.save()
    with pytest.raises(NotPossibleNow):
        give_care(tray=pots, care="feed", on=TODAY, by="Bryn", now=NOW)
