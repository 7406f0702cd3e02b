"""Which days count while a fern rests, and when is a clock without them up?

A rest is a span of ISO weeks that may run over New Year (week 44 to week 10). Days of a resting
stage inside it do not age the fern: the clock of every estimate, date and forecast skips them.
"""

from __future__ import annotations

from datetime import date, timedelta
from math import ceil

#: first and last ISO week of the rest; None for a fern that keeps growing
RestWeeks = tuple[int, int] | None

#: a clock that runs only in a few weeks a year is given up after so many calendar days
_HORIZON_DAYS = 366 * 12


def in_weeks(day: date, weeks: RestWeeks) -> bool:
    """Tell whether the day lies in the span of ISO weeks; a span over New Year works.

    Week 53 belongs to a span that holds week 52 and runs on, in years that have one.
    """
    if weeks is None:
        return False
    first, last = weeks
    week = day.isocalendar().week
    if first <= last:
        return first <= week <= last
    return week >= first or week <= last


def clock_days(start: date, end: date, weeks: RestWeeks) -> int:
    """Return the days from `start` to `end` (≥ 0) that the fern lived through awake.

    The day that ends at midnight after ``start`` is the first one counted; equal dates give 0, a
    later start gives 0.
    """
    if end <= start:
        return 0
    if weeks is None:
        return (end - start).days
    count = 0
    day = start
    while day < end:
        monday = day + timedelta(days=7 - day.weekday())
        stop = min(end, monday)
        if not in_weeks(day, weeks):
            count += (stop - day).days
        day = stop
    return count


def clock_date(start: date, days: float, weeks: RestWeeks) -> date | None:
    """Return the first day on which at least `days` (≥ 0) have passed awake since `start`.

    Returns None when the rest leaves so few weeks that twelve years do not suffice.
    """
    wanted = ceil(days - 1e-9)
    if weeks is None:
        return start + timedelta(days=wanted)
    day = start
    count = 0
    end = start + timedelta(days=_HORIZON_DAYS)
    while count < wanted:
        if day >= end:
            return None
        stop = day + timedelta(days=7 - day.weekday())
        if not in_weeks(day, weeks):
            step = min((stop - day).days, wanted - count)
            count += step
            day += timedelta(days=step)
        else:
            day = stop
    while in_weeks(day, weeks):
        # Awake days are up, but nothing happens to a fern before it wakes.
        day += timedelta(days=7 - day.weekday())
    return day
