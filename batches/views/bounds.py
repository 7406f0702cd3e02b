"""From which day to which day was a list asked for?"""

from __future__ import annotations

from datetime import date

from django.http import HttpRequest


def bounds_asked(request: HttpRequest) -> tuple[date | None, date | None]:
    """Return the first and the last day of ``?from=…&to=…``; None where none can be read."""
    return _day(request.GET.get("from", "")), _day(request.GET.get("to", ""))


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None
