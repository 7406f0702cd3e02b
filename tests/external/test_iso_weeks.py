"""ISO 8601 week dates: the trade schedules by them, and the codes carry them.

*published*: ISO 8601 (Monday first, week 1 holds the year's first Thursday); the days below were
worked out from that rule by hand calendar and are checked against a second, naive reckoning.
"""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from batches.core.codes import batch_code
from batches.services.days import week_words
from batches.templatetags.frond import long_day

WEEKS = [
    ((2016, 1, 3), (2015, 53, 7)),
    ((2021, 1, 3), (2020, 53, 7)),
    ((2023, 1, 1), (2022, 52, 7)),
    ((2024, 12, 29), (2024, 52, 7)),
    ((2024, 12, 30), (2025, 1, 1)),
    ((2025, 12, 29), (2026, 1, 1)),
    ((2026, 1, 1), (2026, 1, 4)),
    ((2026, 12, 28), (2026, 53, 1)),
    ((2027, 1, 3), (2026, 53, 7)),
    ((2027, 1, 4), (2027, 1, 1)),
]
YEARS_OF_53_WEEKS = (2015, 2020, 2026, 2032, 2037, 2043)


def naive_week(day: date) -> tuple[int, int]:
    """Find the Thursday of the day's week: its year is the week's, its ordinal the number."""
    thursday = day - timedelta(days=day.weekday()) + timedelta(days=3)
    return thursday.year, (thursday.timetuple().tm_yday - 1) // 7 + 1


@pytest.mark.parametrize(("day", "week"), WEEKS)
def test_codes_and_pages_name_the_week_words(day, week):
    year, number, weekday = week
    the_day = date(*day)
    assert batch_code(the_day, 1).startswith(f"{year % 100:02d}W{number:02d}-")
    assert week_words(the_day) == f"{year}-W{number:02d}"
    assert long_day(the_day).endswith(f"(wk {number})")
    assert the_day.isoweekday() == weekday
    assert naive_week(the_day) == (year, number)


def test_years_of_53_weeks():
    found = [year for year in range(2010, 2045) if week_words(date(year, 12, 28)) == f"{year}-W53"]
    assert tuple(found) == YEARS_OF_53_WEEKS
