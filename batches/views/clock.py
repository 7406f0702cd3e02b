"""What time is it, for a page?

The only place where pages read the clock; services and models are told. Tests put their own time
here.
"""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone


def now() -> datetime:
    """Give the moment, with its time zone."""
    return timezone.now()


def today() -> date:
    """Give the nursery's own day: the date in the nursery's time zone at `now`."""
    return timezone.localtime(now()).date()
