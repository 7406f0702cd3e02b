"""Are temperatures stored all or none, once, and refused in words when they cannot be?"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import HouseReading
from batches.services.readings import BadLines, Reading, read_lines, span, store_readings
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def reading(house, days=0, low=-2.5, high=14.0) -> Reading:
    return Reading(house=house, on=TODAY - timedelta(days=days), lowest_c=low, highest_c=high)


def store(*readings, **more):
    return store_readings(readings=readings, now=NOW, **more)


def test_a_reading_is_stored_once():
    house = make.HouseFactory()
    assert store(reading(house)).message == "1 reading stored."
    assert store(reading(house)).message == "0 readings stored, 1 known already."
    row = HouseReading.objects.get()
    assert (row.lowest_c, row.highest_c, span(row)) == (-2.5, 14, "−2.5 to 14 °C")


def test_another_one_of_the_same_day_replaces_it_only_when_told():
    house = make.HouseFactory()
    store(reading(house))
    with pytest.raises(NotPossibleNow, match=r"stored as −2\.5 to 14 °C, not −3 to 14 °C"):
        store(reading(house, days=1), reading(house, low=-3.0))
    assert HouseReading.objects.count() == 1
    stored = store(reading(house, days=1), reading(house, low=-3.0), replace=True)
    assert (stored.new, stored.replaced) == (1, 1)
    assert HouseReading.objects.get(on=TODAY).lowest_c == -3


def test_the_same_day_twice_in_one_go_is_told_apart():
    house = make.HouseFactory()
    assert store(reading(house), reading(house)).known == 1
    with pytest.raises(NotPossibleNow):
        store(reading(house, days=1), reading(house, days=1, low=0.0))
    assert HouseReading.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "error"),
    [
        ({"days": -1}, OutOfTime),
        ({"low": None, "high": None}, NotUnderstood),
        ({"low": 15.0}, NotUnderstood),
        ({"low": -61.0}, NotUnderstood),
        ({"high": 71.0}, NotUnderstood),
        ({"high": float("nan")}, NotUnderstood),
    ],
)
def test_a_reading_that_cannot_be_stores_nothing(more, error):
    house = make.HouseFactory()
    with pytest.raises(error):
        store(reading(house, days=3), reading(house, **more))
    assert HouseReading.objects.count() == 0


@pytest.mark.parametrize("how_many", [3, 30])
def test_many_are_stored_with_a_constant_number_of_queries(how_many, django_assert_num_queries):
    house = make.HouseFactory()
    # One look at what is stored and one insert, in a transaction.
    with django_assert_num_queries(4):
        store(*(reading(house, days=days) for days in range(how_many)))
    assert HouseReading.objects.count() == how_many


# Pasted lines


@pytest.mark.parametrize(
    "text",
    [
        "H1,2026-06-09,-1.5,12\nH1,2026-06-08,3,",
        "\ufeffhouse;on;lowest_c;highest_c\r\nh1;2026-06-09;-1,5;12\r\n\r\nH1;2026-06-08;3;\r\n",
        "House\tOn\tLowest_c\tHighest_c\nH1\t2026-6-9\t−1.5 °C\t12 °C\nH1\t2026-06-08\t3\t",
        '"H1","2026-06-09","-1.5","12"\nH1,2026-06-08,3',
    ],
)
def test_lines_are_read_as_loggers_and_spreadsheets_write_them(text):
    house = make.HouseFactory(code="H1")
    assert read_lines(text) == (
        Reading(house=house, on=date(2026, 6, 9), lowest_c=-1.5, highest_c=12),
        Reading(house=house, on=date(2026, 6, 8), lowest_c=3, highest_c=None),
    )


def test_a_day_that_may_be_read_two_ways_is_asked_for():
    make.HouseFactory(code="H1")
    with pytest.raises(BadLines, match="two ways"):
        read_lines("H1,03/04/2026,1,2")
    (found,) = read_lines("H1,03/04/2026,1,2", day_first=True)
    assert found.on == date(2026, 4, 3)


def test_every_bad_line_is_named_and_nothing_is_read():
    make.HouseFactory(code="H1")
    lines = [
        "H1,2026-06-09,1,2", "H9,2026-06-09,1,2", "H1,2026-02-30,1,2", "H1,2026-06-09,cold,2",
        "H1,2026-06-09",
    ]  # fmt: skip
    with pytest.raises(BadLines) as refused:
        read_lines("\n".join(lines))
    assert [line.split(":")[0] for line in refused.value.lines] == [
        "Line 2", "Line 3", "Line 4", "Line 5",
    ]  # fmt: skip
    for piece in ("“H9”", "“2026-02-30” is no day", "“cold” is no temperature", "house, day"):
        assert piece in refused.value.message


@pytest.mark.parametrize("text", ["", "  \n ", "H1,2026-06-09,1,2\n" * 5_001])
def test_none_and_too_many_lines_are_refused(text):
    with pytest.raises(NotUnderstood):
        read_lines(text)
