"""Which day is it at the nursery?"""

from __future__ import annotations

from datetime import date, datetime, time

from django.utils import timezone


def local_day(moment: datetime) -> date:
    """Return the nursery's own day of a moment: 23:30 belongs to that day everywhere."""
    # The configured zone, not a thread's current one: nothing here activates another, and asking
    # for that one costs more than all the rest, a hundred thousand times over.
    return moment.astimezone(timezone.get_default_timezone()).date()


def at_noon(day: date) -> datetime:
    """Return noon of the nursery's day, for deeds of which only the day is known."""
    return datetime.combine(day, time(12, 0), tzinfo=timezone.get_current_timezone())


def day_bounds(day: date) -> tuple[datetime, datetime]:
    """Return the first and the last moment of the nursery's day."""
    zone = timezone.get_current_timezone()
    return datetime.combine(day, time.min, tzinfo=zone), datetime.combine(
        day, time.max, tzinfo=zone
    )


def week_words(day: date) -> str:
    """Return the week of a day as ISO 8601 names it: “2026-W48”."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02d}"


def day_words(day: date) -> str:
    """Return the day as sentences name it: “Tue 24 Nov 2026”."""
    return f"{day:%a} {day.day} {day:%b %Y}"
