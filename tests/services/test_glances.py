"""Does a glance over a bench satisfy the looks that were due, once, and prove nothing?"""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.core.errors import AlreadyTaken, NotPossibleNow, OutOfTime
from batches.models import StageTransition, Tray, TrayCheck
from batches.services.checks import record_check
from batches.services.glances import record_glance
from batches.services.standing import differing
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


def glance(**more):
    more.setdefault("seen_at", make.NOW)
    return record_glance(now=make.NOW, by="Una Tarn", **more)


def test_a_bench_looked_over_leaves_out_exceptions_isolated_and_ended_trays():
    bench = make.BenchFactory()
    a, b, c = make.TrayFactory.create_batch(3, bench=bench)
    shut_off = make.TrayFactory(bench=bench, isolated=True)
    make.TrayFactory(bench=bench, ended_on=TODAY, end="cleared")
    make.TrayFactory(bench=make.BenchFactory())

    result = glance(bench=bench, except_=[b])

    assert [check.tray for check in result.checks] == [a, c]
    assert [one.tray for one in result.skipped] == [shut_off]
    assert f"Left out: {shut_off.code}" in result.message
    assert Tray.objects.filter(last_look_on=TODAY).count() == 2
    assert not {a.code, c.code} & set(differing()[1])


def test_an_isolated_tray_counts_when_it_is_named_and_an_ended_one_never():
    isolated = make.TrayFactory(isolated=True)
    ended = make.TrayFactory(ended_on=TODAY, end="cleared")

    result = glance(trays=[isolated, ended])

    assert [check.tray for check in result.checks] == [isolated]
    assert "has ended (cleared)" in result.skipped[0].why


def test_a_glance_puts_off_the_next_look_and_moves_no_not_before():
    tray = make.TrayFactory()
    early = make.at(TODAY - timedelta(days=20))
    record_check(tray=tray, seen_at=early, now=early, by="Una Tarn")

    glance(trays=[tray], seen_at=make.at(TODAY - timedelta(days=5)))
    result = record_check(
        tray=tray, seen_at=make.NOW, now=make.NOW, by="Una Tarn", stage_seen="gametophyte"
    )

    assert StageTransition.objects.standing().get().not_before == early.date()
    assert result.tray.last_close_look_on == TODAY


def test_the_same_glance_sent_twice_is_stored_once_even_when_the_bench_changed_meanwhile():
    bench = make.BenchFactory()
    make.TrayFactory.create_batch(3, bench=bench)
    record_id = uuid.uuid4()
    first = glance(bench=bench, record_id=record_id)
    make.TrayFactory(bench=bench)

    again = glance(bench=bench, record_id=record_id)

    assert not again.created
    assert [check.id for check in again.checks] == [check.id for check in first.checks]
    assert TrayCheck.objects.count() == 3
    with pytest.raises(AlreadyTaken):
        glance(bench=bench, record_id=record_id, seen_at=make.NOW - timedelta(hours=1))


def test_a_glance_in_the_future_or_over_nothing_is_refused():
    with pytest.raises(OutOfTime):
        glance(trays=[make.TrayFactory()], seen_at=make.NOW + timedelta(hours=1))
    with pytest.raises(NotPossibleNow, match="No tray is left"):
        glance(bench=make.BenchFactory())
    assert not TrayCheck.objects.exists()


def test_a_tray_started_later_than_the_glance_is_left_out():
    tray, later = make.TrayFactory(), make.TrayFactory(started_on=TODAY)

    result = glance(trays=[tray, later], seen_at=make.at(TODAY - timedelta(days=2)))

    assert [check.tray for check in result.checks] == [tray]


def test_forty_trays_cost_as_many_queries_as_three():
    def cost(how_many: int) -> int:
        bench = make.BenchFactory()
        make.TrayFactory.create_batch(how_many, bench=bench, batch=make.BatchFactory())
        with CaptureQueriesContext(
            connection,
        ) as asked:
            glance(bench=bench)
        return len(asked)

    assert cost(3) == cost(40)
