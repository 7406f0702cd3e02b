"""Does a fern's clock stand still in its rest weeks?"""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from batches.core.rest import clock_date, clock_days, in_weeks

WINTER = (44, 10)
days = st.dates(date(2024, 1, 1), date(2029, 1, 1))
weeks = st.tuples(st.integers(1, 53), st.integers(1, 53))


def naive_clock_days(start: date, end: date, rest) -> int:
    """Count day by day: a day is lived when the day it began on is awake."""
    count, day = 0, start
    while day < end:
        count += not in_weeks(day, rest)
        day += timedelta(days=1)
    return count


def test_a_rest_over_new_year_holds_both_ends_and_week_53():
    assert in_weeks(date(2026, 10, 26), WINTER)
    assert not in_weeks(date(2026, 10, 25), WINTER)
    assert in_weeks(date(2026, 12, 31), WINTER)
    assert date(2026, 12, 31).isocalendar().week == 53
    assert in_weeks(date(2027, 3, 14), WINTER)
    assert not in_weeks(date(2027, 3, 15), WINTER)


def test_without_a_rest_the_clock_is_the_calendar():
    assert clock_days(date(2026, 1, 1), date(2026, 3, 1), None) == 59
    assert clock_date(date(2026, 1, 1), 59, None) == date(2026, 3, 1)


@given(days, st.integers(0, 900), weeks)
def test_clock_days_against_a_count_day_by_day(start, span, rest):
    end = start + timedelta(days=span)
    assert clock_days(start, end, rest) == naive_clock_days(start, end, rest)


@given(days, days, weeks)
def test_a_duration_is_never_negative(start, end, rest):
    assert clock_days(start, end, rest) >= 0


@given(days, st.integers(0, 400), weeks)
def test_the_date_is_the_first_awake_day_with_that_many_days_behind_it(start, wanted, rest):
    found = clock_date(start, wanted, rest)
    if found is None:
        assert naive_clock_days(start, start + timedelta(days=366 * 12), rest) < wanted
        return
    assert clock_days(start, found, rest) == wanted
    assert not in_weeks(found, rest)


def test_a_fern_that_rests_all_year_never_gets_there():
    assert clock_date(date(2026, 1, 1), 5, (1, 53)) is None
