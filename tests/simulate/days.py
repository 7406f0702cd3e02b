"""On which days is there work, when does a fern rest, and how is a moment written?

Days are proleptic ordinals; a moment inside a day is their fraction.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from datetime import date, datetime, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

ZONE = ZoneInfo("Europe/Dublin")
_DAYS_OF_WEEK = 7


class WorkDays:
    """Which days the nursery works: Monday to Friday, some Saturdays, not about Christmas."""

    def __init__(self, *, first: int, last: int) -> None:
        self._first = first
        self._next = [0] * (last - first + 40)
        following = first + len(self._next)
        for place in range(len(self._next) - 1, -1, -1):
            day = first + place
            if _worked(date.fromordinal(day)):
                following = day
            self._next[place] = following

    def on_or_after(self, day: int) -> int:
        """Return the next day of work, the day itself included."""
        place = day - self._first
        return self._next[place] if 0 <= place < len(self._next) else day


def _worked(day: date) -> bool:
    if (day.month, day.day) >= (12, 24) or (day.month, day.day) <= (1, 2):
        return False
    if day.isoweekday() == _DAYS_OF_WEEK - 1:
        return day.isocalendar().week % 2 == 0
    return day.isoweekday() < _DAYS_OF_WEEK - 1


def in_weeks(week: int, first: int, last: int) -> bool:
    """Tell whether an ISO week lies from first to last, which may run over New Year."""
    return first <= week <= last if first <= last else week >= first or week <= last


class GrowingDays:
    """A fern's clock, which stands still in the ISO weeks of its rest."""

    def __init__(self, rest: tuple[int, int] | None, *, first: int, last: int) -> None:
        self._first = first
        self._rest = rest
        self._grown = [0.0]
        self._resting: list[bool] = []
        for day in range(first, last):
            resting = rest is not None and in_weeks(date.fromordinal(day).isocalendar().week, *rest)
            self._resting.append(resting)
            self._grown.append(self._grown[-1] + (not resting))

    def rests(self, day: int) -> bool:
        """Tell whether the fern rests on that day."""
        place = day - self._first
        return self._resting[place] if 0 <= place < len(self._resting) else False

    def after(self, start: float, days: float) -> float:
        """Return when so many growing days have passed since the start; infinity past the end."""
        if self._rest is None or math.isinf(days):
            return start + days
        place = int(start) - self._first
        part = 0.0 if self._resting[place] else start - int(start)
        goal = self._grown[place] + part + days
        found = bisect_right(self._grown, goal) - 1
        if found >= len(self._resting):
            return math.inf
        return self._first + found + (goal - self._grown[found])


@lru_cache(maxsize=8192)
def iso(day: int) -> str:
    """Return the date of an ordinal as ``2026-03-30``."""
    return date.fromordinal(day).isoformat()


@lru_cache(maxsize=8192)
def _offset(day: int) -> str:
    noon = datetime.combine(date.fromordinal(day), datetime.min.time(), tzinfo=ZONE)
    return (noon + timedelta(hours=12)).isoformat()[-6:]


def moment(day: int, second: int) -> str:
    """Return a local time, seconds after midnight, with the zone's offset of that day."""
    minutes, seconds = divmod(second, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{iso(day)}T{hours:02d}:{minutes:02d}:{seconds:02d}{_offset(day)}"
