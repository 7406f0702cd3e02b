"""Does a tray stand where it was put, and nowhere two at once unless they are stacked?"""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from batches.core.errors import (
    AlreadyTaken,
    ChangedMeanwhile,
    NotPossibleNow,
    NotUnderstood,
    OutOfTime,
)
from batches.models import Place
from batches.services.moves import move
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.TODAY


def go(trays, bench, **more):
    given: dict[str, Any] = {"on": TODAY, "by": "Una Tarn", "now": make.NOW} | more
    return move(trays=trays, bench=bench, **given)


def where(tray):
    tray.refresh_from_db()
    return tray.bench, tray.row, tray.column


def test_a_moved_tray_stands_there_and_its_old_place_stays_on_record():
    old, new = make.BenchFactory.create_batch(2)
    tray = make.TrayFactory(bench=old, row=1, column=1)

    result = go([tray], new, row=2, column=3)

    assert where(tray) == (new, 2, 3)
    assert list(Place.objects.filter(tray=tray).values_list("bench", "on")) == [
        (old.pk, make.STARTED_ON), (new.pk, TODAY),
    ]  # fmt: skip
    assert f"bench {new.code}, row 2, column 3" in result.message


def test_a_taken_place_is_refused_unless_they_swap_or_are_stacked():
    bench = make.BenchFactory()
    a = make.TrayFactory(bench=bench, row=1, column=1)
    b = make.TrayFactory(bench=bench, row=1, column=2)
    make.TrayFactory(bench=bench, row=1, column=3, ended_on=TODAY, end="cleared")

    with pytest.raises(NotPossibleNow, match=f"Tray {b.code} stands on"):
        go([a], bench, row=1, column=2)
    result = go([a], bench, row=1, column=2, swap=True)
    assert result.swapped == b
    assert (where(a), where(b)) == ((bench, 1, 2), (bench, 1, 1))

    go([a], bench, row=1, column=1, stack=True)
    assert where(a) == where(b)
    go([a], bench, row=1, column=3)


def test_several_trays_take_the_free_places_from_there_on():
    bench = make.BenchFactory(rows=2, columns=3)
    make.TrayFactory(bench=bench, row=1, column=3)
    a, b, c = make.TrayFactory.create_batch(3)

    go([c, a, b], bench, row=1, column=2)

    assert [where(tray)[1:] for tray in (a, b, c)] == [(1, 2), (2, 1), (2, 2)]
    with pytest.raises(NotPossibleNow, match="has 1 free places from row 2, column 1 on; 2 are"):
        go(make.TrayFactory.create_batch(2), bench, row=2, column=1)


def test_several_trays_go_to_a_bench_without_places_only_as_a_whole():
    bench = make.BenchFactory(rows=None, columns=None)
    trays = make.TrayFactory.create_batch(2)

    with pytest.raises(NotPossibleNow, match="rows and columns are not set down"):
        go(trays, bench, row=1, column=1)
    go(trays, bench)

    assert {where(tray) for tray in trays} == {(bench, None, None)}


def test_a_move_entered_late_leaves_the_later_place_standing():
    old, now_there = make.BenchFactory.create_batch(2)
    tray = make.TrayFactory()
    go([tray], now_there)

    go([tray], old, on=TODAY - timedelta(days=5))

    assert where(tray)[0] == now_there
    assert Place.objects.count() == 2


def test_the_same_move_sent_twice_is_one():
    bench = make.BenchFactory()
    trays = make.TrayFactory.create_batch(2)
    record_id = uuid.uuid4()

    first = go(trays, bench, record_id=record_id)
    again = go(trays, bench, record_id=record_id)

    assert (first.created, again.created) == (True, False)
    assert Place.objects.count() == 2
    with pytest.raises(AlreadyTaken):
        go(trays, make.BenchFactory(), record_id=record_id)


@pytest.mark.parametrize(
    ("wrong", "error", "field"),
    [
        ({"row": 5}, NotPossibleNow, "row"),
        ({"column": 11}, NotPossibleNow, "column"),
        ({"row": 0}, NotPossibleNow, "row"),
        ({"on": TODAY + timedelta(days=1)}, OutOfTime, "on"),
        ({"on": make.STARTED_ON - timedelta(days=1)}, OutOfTime, "on"),
        ({"bench": None, "row": 1}, NotUnderstood, "bench"),
        ({"trays": []}, NotUnderstood, "trays"),
    ],
)
def test_bad_input_moves_nothing(wrong, error, field):
    given: dict[str, Any] = {"trays": [make.TrayFactory()], "bench": make.BenchFactory()} | wrong

    with pytest.raises(error) as refused:
        go(given.pop("trays"), given.pop("bench"), **given)

    assert refused.value.field == field
    assert not Place.objects.exists()


def test_an_ended_tray_is_moved_no_more_and_two_people_are_told_apart():
    tray = make.TrayFactory()
    shown = tray.revision
    go([tray], make.BenchFactory())

    with pytest.raises(ChangedMeanwhile):
        go([tray], make.BenchFactory(), revisions={tray.pk: shown})
    with pytest.raises(NotPossibleNow, match="was cleared"):
        go([make.TrayFactory(ended_on=TODAY, end="cleared")], make.BenchFactory())
