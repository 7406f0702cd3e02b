"""Which days do the tests of records live on? Fixed ones, so that no test depends on the clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

#: the nursery's own zone in tests (settings.TIME_ZONE's default)
ZONE = ZoneInfo("Europe/Dublin")
#: when what the factories make was started
STARTED_ON = date(2026, 4, 1)
#: the tests' present: a Wednesday, ten weeks later
TODAY = date(2026, 6, 10)
NOW = datetime(2026, 6, 10, 8, 0, tzinfo=UTC)


def at(day: date, hour: int = 9, minute: int = 0) -> datetime:
    """Return that hour of the nursery's own day."""
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE)
