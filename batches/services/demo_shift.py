"""How are records moved by whole weeks, codes and all?

Dates and moments keep their weekday and their local time of day. A given-out code says in which
ISO week or year it was given, so it is made anew with its check letter; the nursery's own codes
stay. Week numbers of the year (rest, ripening, last potting up) stay too: ferns do not move.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta, tzinfo

from batches.core.codes import KIND_LETTERS, kind_code, read_code, with_check
from batches.services.records_io.columns import FILE_NAMED
from batches.services.records_io.kinds import Kind

#: rows of one file: column → cell, as they stand in the CSV
Rows = list[dict[str, str]]
Tables = Mapping[str, Rows]

#: which column dates a kind of code; an origin has no day, only the year in its code
_DATED_BY = {"lot": "collected_on", "medium": "made_on", "order": "wanted_on", "source": ""}
_FILE_OF = {
    "lot": "spore_lots", "medium": "media_batches", "order": "orders", "source": "sources",
}  # fmt: skip
_GIVEN_OUT = re.compile(
    r"\b(?:\d\dW\d\d-\d{3,4}(?:-\d{2,3})?|"
    f"[{''.join(KIND_LETTERS.values())}]"
    r"\d\d-\d{3,4})-[A-Z]\b"
)
_CENTURY = 2000
_MIDSUMMER = (7, 1)


def weeks_between(*, reference: date, today: date) -> int:
    """Return the whole weeks from the reference day's ISO week to today's; negative for earlier."""
    return (_monday(today) - _monday(reference)).days // 7


def _monday(day: date) -> date:
    return day - timedelta(days=day.weekday())


def shifted(tables: Tables, *, weeks: int, zone: tzinfo) -> dict[str, Rows]:
    """Return the records moved by so many weeks (later where positive).

    Every reference to a code that is made anew follows, also in notes and in lists of codes.
    ``zone`` is the nursery's: 09:12 stays 09:12, whatever the offset of the new day.
    """
    if weeks == 0:
        return {name: [dict(row) for row in rows] for name, rows in tables.items()}
    by = timedelta(weeks=weeks)
    fresh = _fresh_codes(tables, by)

    def moved(cell: str, kind: Kind) -> str:
        if not cell:
            return cell
        if kind is Kind.DAY:
            return (date.fromisoformat(cell) + by).isoformat()
        if kind is Kind.MOMENT:
            return _moved_moment(cell, by, zone)
        return _GIVEN_OUT.sub(lambda found: fresh.get(found[0], found[0]), cell)

    return {
        name: [{column: moved(cell, kinds[column]) for column, cell in row.items()} for row in rows]
        for name, rows in tables.items()
        for kinds in [_kinds_of(name)]
    }


def _kinds_of(name: str) -> dict[str, Kind]:
    return {column.name: column.kind for column in FILE_NAMED[name].columns}


def _moved_moment(cell: str, by: timedelta, zone: tzinfo) -> str:
    local = datetime.fromisoformat(cell).astimezone(zone).replace(tzinfo=None) + by
    return local.replace(tzinfo=zone).isoformat()


def _fresh_codes(tables: Tables, by: timedelta) -> dict[str, str]:
    """Return old code → new code for everything that was given out."""
    fresh: dict[str, str] = {}
    for name in ("batches", "trays"):
        for row in tables.get(name, ()):
            if _is_given_out(row["code"]):
                fresh[row["code"]] = _in_its_week(row["code"], by)
    for kind, file in _FILE_OF.items():
        fresh |= _in_their_years(kind, tables.get(file, ()), by)
    if len(set(fresh.values())) != len(fresh):
        raise AssertionError("two codes became one")
    return fresh


def _is_given_out(code: str) -> bool:
    reading = read_code(code)
    return bool(reading.shape) and reading.fits


def _in_its_week(code: str, by: timedelta) -> str:
    """Return a batch's or tray's code as if given out that much later."""
    week, *numbers = code.split("-")[:-1]
    year, number = _CENTURY + int(week[:2]), int(week[3:])
    moved = (date.fromisocalendar(year, number, 1) + by).isocalendar()
    return with_check("-".join([f"{moved.year % 100:02d}W{moved.week:02d}", *numbers]))


def _in_their_years(kind: str, rows: Iterable[dict[str, str]], by: timedelta) -> dict[str, str]:
    """Return the new codes of one kind; serials are kept, or counted anew where two would meet."""
    in_year: dict[int, list[tuple[date, str]]] = defaultdict(list)
    for row in rows:
        code = row["code"]
        if _is_given_out(code):
            cell = row.get(_DATED_BY[kind], "")
            given_in = date(_CENTURY + int(code[1:3]), *_MIDSUMMER)
            day = (date.fromisoformat(cell) if cell else given_in) + by
            in_year[day.year].append((day, code))
    fresh = {}
    for year, things in in_year.items():
        serials = [int(code.split("-")[1]) for _, code in things]
        if len(set(serials)) < len(serials):
            things.sort()
            serials = list(range(1, len(things) + 1))
        for (_, code), serial in zip(things, serials, strict=True):
            fresh[code] = kind_code(kind, year, serial)
    return fresh
