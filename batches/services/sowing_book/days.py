"""Which day does a cell of an old book mean?"""

from __future__ import annotations

import re
from datetime import date

from batches.services.records_io.cells import BadCell
from batches.services.records_io.faults import shown

_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ].*)?\Z")
_NUMBERS = re.compile(r"(\d{1,2})[./ -]\s*(\d{1,2})[./ -]\s*(\d{4}|\d{2})\Z")
_NAMED = re.compile(r"(\d{1,2})\.?[ -]*([^\W\d_]{3,9})\.?,?[ -]*(\d{4}|\d{2})\Z")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
#: as German begins those months that it begins otherwise
_GERMAN_MONTHS = {"mär": "mar", "mai": "may", "okt": "oct", "dez": "dec"}


def book_day(text: str, *, day_first: bool) -> date:
    """Return the day of `2024-03-12`, `12.3.24`, `12/03/2024`, `12 March 2024` or `12. März 2024`.

    A year of two digits is of this century. Without ``day_first`` a date in numbers alone has to
    begin with its year, or be the same either way.

    Raises
    ------
    BadCell
        When it is no day, or may be two.
    """
    if match := _ISO.match(text):
        return _calendar(int(match[1]), int(match[2]), int(match[3]), text)
    if match := _NAMED.match(text):
        stem = match[2][:3].lower()
        stem = _GERMAN_MONTHS.get(stem, stem)
        if stem in _MONTHS:
            return _calendar(_year(match[3]), _MONTHS.index(stem) + 1, int(match[1]), text)
    if match := _NUMBERS.match(text):
        first, second, year = int(match[1]), int(match[2]), _year(match[3])
        if day_first or first == second:
            return _calendar(year, second, first, text)
        raise BadCell(
            f"{shown(text)} does not begin with the year: tick “day first” if it is day, month, "
            "year, or write it like 2024-03-12."
        )
    raise BadCell(f"{shown(text)} is not a day: write it like 2024-03-12 or 12 March 2024.")


def _year(digits: str) -> int:
    return int(digits) + (2000 if len(digits) == 2 else 0)


def _calendar(year: int, month: int, day: int, text: str) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise BadCell(f"{shown(text)} is no day of the calendar.") from None
