"""Are houses and benches drawn once, walked past in order, and never shrunk under a tray?"""

from __future__ import annotations

import uuid
from typing import Any

import pytest

from batches.core.codes import BadCode
from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood
from batches.models import Bench, CodeEntry, House
from batches.services.free_places import count_free
from batches.services.houses import (
    build_alike,
    build_bench,
    build_house,
    change_bench,
    change_house,
    comes_after,
    house_lines,
    set_in_walk,
)
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW


def bench(code="B1", **more) -> Bench:
    house = more.pop("house", None) or House.objects.first() or make.HouseFactory()
    return build_bench(house=house, code=code, now=NOW, **more)


def walk() -> list[str]:
    return [one.code for one in Bench.objects.in_walking_order()]


def test_a_house_is_built_and_noted_anew():
    house = build_house(code="Frame-2", name=" Cold frame ", now=NOW)
    assert (house.code, house.name, str(house)) == ("Frame-2", "Cold frame", "Cold frame")
    assert CodeEntry.objects.get(code="Frame-2").kind == "house"
    change_house(house=house, name="", light_note=" shaded ", temperature_note="", frost_free=True)
    house.refresh_from_db()
    assert (str(house), house.light_note, house.frost_free) == ("Frame-2", "shaded", True)


def test_codes_that_are_taken_or_none_are_refused_and_nothing_is_built():
    build_house(code="H1", now=NOW)
    with pytest.raises(AlreadyTaken, match="code of a house"):
        bench("H1")
    with pytest.raises(BadCode, match="cannot be a code"):
        build_house(code="north house", now=NOW)
    assert (House.objects.count(), Bench.objects.count()) == (1, 0)


def test_the_same_form_sent_twice_builds_once():
    record_id = uuid.uuid4()
    given: dict[str, Any] = {"code": "H1", "now": NOW, "record_id": record_id}
    assert build_house(**given) == build_house(**given)
    other = uuid.uuid4()
    assert bench("B1", record_id=other) == bench("B1", record_id=other)
    assert (House.objects.count(), Bench.objects.count()) == (1, 1)


def test_benches_stand_in_the_walk_where_they_are_put():
    first = bench("B1")
    bench("B2")
    bench("B3", after=first)
    bench("B0", first=True)
    assert walk() == ["B0", "B1", "B3", "B2"]
    last = Bench.objects.get(code="B2")
    set_in_walk(bench=last, after=None)
    assert walk() == ["B2", "B0", "B1", "B3"]
    set_in_walk(bench=last, after=Bench.objects.get(code="B3"))
    assert walk() == ["B0", "B1", "B3", "B2"]
    assert comes_after(last) == Bench.objects.get(code="B3")
    assert comes_after(Bench.objects.get(code="B0")) is None


def test_a_bench_without_a_place_in_the_walk_gets_one_when_another_is_moved():
    stray = make.BenchFactory(walk_order=None)
    one = make.BenchFactory(walk_order=5)
    set_in_walk(bench=one, after=stray)
    assert walk() == [stray.code, one.code]


@pytest.mark.parametrize(
    ("size", "field"),
    [((0, 4), "rows"), ((4, 201), "columns"), ((4, None), "columns"), ((None, 4), "rows")],
)
def test_a_size_that_cannot_be_is_refused(size, field):
    with pytest.raises(NotUnderstood) as refused:
        bench(rows=size[0], columns=size[1])
    assert refused.value.field == field
    assert Bench.objects.count() == 0


def test_a_bench_is_not_shrunk_under_a_tray():
    one = bench(rows=4, columns=10)
    tray = make.TrayFactory(bench=one, row=4, column=10)
    make.TrayFactory(bench=one, row=4, column=9)
    make.TrayFactory(bench=one, row=4, column=8, ended_on=make.TODAY, end="cleared")
    kept: dict[str, Any] = {"house": one.house, "name": "Long"}
    with pytest.raises(NotPossibleNow, match=f"Tray {tray.code} and 1 more would stand outside"):
        change_bench(bench=one, rows=3, columns=10, **kept)
    with pytest.raises(NotPossibleNow):
        change_bench(bench=one, rows=None, columns=None, **kept)
    one.refresh_from_db()
    assert (one.rows, one.columns, one.name) == (4, 10, "")
    change_bench(bench=one, rows=5, columns=12, **kept)
    assert (one.rows, one.name, count_free(bench=one)) == (5, "Long", 58)


@pytest.mark.parametrize("how_many", [3, 30])
def test_all_houses_are_read_in_a_constant_number_of_queries(how_many, django_assert_num_queries):
    for _ in range(how_many):
        make.TrayFactory(bench=make.BenchFactory(), row=1, column=1)
    empty = make.HouseFactory(code="A0")
    with django_assert_num_queries(4):
        lines = house_lines()
    assert len(lines) == how_many + 1
    assert lines[-1].house == empty
    assert {(row.trays, row.free) for line in lines for row in line.benches} == {(1, 39)}


def test_houses_come_as_one_walks_past_them():
    far, near = make.HouseFactory(code="H1"), make.HouseFactory(code="H2")
    make.BenchFactory(house=far, walk_order=90)
    make.BenchFactory(house=near, walk_order=10)
    assert [line.house for line in house_lines()] == [near, far]


def test_benches_alike_count_their_codes_on_and_stand_one_after_another():
    house = build_house(code="MIST", now=NOW)
    build_bench(house=house, code="M3", now=NOW, rows=1, columns=1)
    first = build_bench(house=house, code="M1", now=NOW, rows=3, columns=8, first=True)
    more = build_alike(bench=first, more=3, now=NOW)
    assert [bench.code for bench in more] == ["M2", "M4", "M5"]  # M3 stands already
    assert {(bench.rows, bench.columns) for bench in more} == {(3, 8)}
    walk = [bench.code for bench in Bench.objects.in_walking_order()]
    assert walk == ["M1", "M2", "M4", "M5", "M3"]
    named = build_bench(house=house, code="LOWER", now=NOW)
    assert [bench.code for bench in build_alike(bench=named, more=1, now=NOW)] == ["LOWER2"]
    with pytest.raises(NotUnderstood):
        build_alike(bench=named, more=30, now=NOW)
