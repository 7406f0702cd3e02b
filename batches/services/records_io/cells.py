"""What does one cell say, and how is a value written into one?"""

from __future__ import annotations

import math
import re
import uuid
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from batches.core.codes import BadCode, require_own_code
from batches.services.records_io.faults import did_you_mean, shown
from batches.services.records_io.guarding import guarded, unguarded
from batches.services.records_io.kinds import Column, Kind

_WHOLE = re.compile(r"[+-]?[0-9]+(?:\.0+)?\Z")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?\Z")
_DECIMAL_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+\Z")
_ISO_DAY = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?\Z")
_DAY_FIRST = re.compile(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-]([0-9]{4})(?:[T ](.*))?\Z", re.DOTALL)
_TIME = re.compile(
    r"[0-9]{2}:[0-9]{2}(?::[0-9]{2}(?:\.[0-9]{1,6})?)?(Z|[+-][0-9]{2}:?[0-9]{2}(?::[0-9]{2})?)?\Z"
)
#: a moment as it is mostly written: what `_moment` takes without a second look
_FULL_MOMENT = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]{1,6})?"
    r"(?:Z|[+-][0-9]{2}:[0-9]{2})\Z"
)
_UUID = re.compile(r"[0-9a-fA-F]{8}-?(?:[0-9a-fA-F]{4}-?){3}[0-9a-fA-F]{12}\Z")
_FIRST_YEAR, _LAST_YEAR = 1800, 2199
_FIRST_MOMENT_YEAR = 1970


class BadCell(Exception):
    """The cell cannot be read; the text says what is wrong and what would be right."""


Reader = Callable[[str], Any]


# Reading


def reader_of(column: Column, *, day_first: bool) -> Reader:
    """Return the function that reads this column's cells.

    It takes the cell as it stands in the file and returns None for an empty one (False in a
    yes-column), raises `BadCell` for one that cannot be read, and remembers what it read before
    where cells repeat.
    """
    if column.kind is Kind.TEXT:
        return _text_reader(column)
    makers: dict[Kind, Callable[[], Reader]] = {
        Kind.CODE: lambda: _code,
        Kind.REF: lambda: _code,
        Kind.REFS: lambda: _codes,
        Kind.WORD: lambda: _word_reader(column),
        Kind.WORDS: lambda: _words_reader(column),
        Kind.WHOLE: lambda: _whole_reader(column),
        Kind.NUMBER: lambda: _number_reader(column),
        Kind.DAY: lambda: lambda text: _day(text, day_first=day_first),
        Kind.MOMENT: lambda: lambda text: _moment(text, day_first=day_first),
        Kind.YES: lambda: _yes,
        Kind.ID: lambda: _id,
        Kind.ROW: lambda: _id,
    }
    read = makers[column.kind]()
    repeats = column.kind not in {Kind.MOMENT, Kind.ID, Kind.CODE}
    return _trimmed(read, empty=False if column.kind is Kind.YES else None, remember=repeats)


def _trimmed(read: Reader, *, empty: object, remember: bool) -> Reader:
    known: dict[str, Any] = {"": empty}

    def trimmed(cell: str) -> Any:
        if cell in known:
            return known[cell]
        text = cell.strip()
        value = read(text) if text else empty
        if remember:
            known[cell] = value
        return value

    return trimmed


def _text_reader(column: Column) -> Reader:
    longest = column.longest or 0

    def read(cell: str) -> str | None:
        if not cell:
            return None
        text = unguarded(cell)
        if len(text) > longest:
            raise BadCell(f"{len(text):,} characters; at most {longest:,} fit.")
        if "\x00" in text:
            raise BadCell(f"{shown(text)} holds a NUL byte, which is no character. Delete it.")
        return text or None

    return read


def _code(text: str) -> str:
    try:
        return require_own_code(text)
    except BadCode:
        raise BadCell(
            f"{shown(text)} cannot be a code: 1 to 32 of A-Z a-z 0-9 - . _ are allowed, the first "
            "and the last a letter or a digit."
        ) from None


def _codes(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(_code(word) for word in text.split()))


def _one_word(text: str, column: Column) -> str:
    if text in column.words:
        return text
    folded = text.casefold()
    for word in column.words:
        if word.casefold() == folded:
            return word
    hint = did_you_mean(text, column.words)
    if not hint:
        hint = f" The words are {', '.join(column.words)}."
    raise BadCell(f"{shown(text)} is not a word of this column.{hint}")


def _word_reader(column: Column) -> Reader:
    return lambda text: _one_word(text, column)


def _words_reader(column: Column) -> Reader:
    def read(text: str) -> str:
        found = {_one_word(word, column) for word in text.split()}
        joined = " ".join(word for word in column.words if word in found)
        if column.longest is not None and len(joined) > column.longest:
            raise BadCell(f"{len(joined)} characters; at most {column.longest} fit.")
        return joined

    return read


def _not_a_number(text: str, what: str) -> BadCell:
    if _DECIMAL_COMMA.match(text):
        point = text.replace(",", ".")
        return BadCell(
            f"{shown(text)} has a decimal comma: write {point} "
            f"(or {text.replace(',', '')}, if the comma stood between thousands)."
        )
    if text.startswith("\N{MINUS SIGN}"):
        return BadCell(f"{shown(text)} has a typeset minus: write -{text[1:]}.")
    return BadCell(f"{shown(text)} is not {what}: digits alone, without a unit or spaces.")


def _within(value: float, column: Column) -> None:
    if column.least is not None and value < column.least:
        raise BadCell(f"{value:.15g} is too low: {column.least:.15g} or more.")
    if column.most is not None and value > column.most:
        raise BadCell(f"{value:.15g} is too high: {column.most:.15g} or less.")


def _whole_reader(column: Column) -> Reader:
    def read(text: str) -> int:
        if not _WHOLE.match(text) or len(text) > 40:
            raise _not_a_number(text, "a whole number")
        value = int(text.partition(".")[0])
        _within(value, column)
        return value

    return read


def _number_reader(column: Column) -> Reader:
    def read(text: str) -> float:
        if not _NUMBER.match(text):
            raise _not_a_number(text, "a number")
        value = float(text)
        if not math.isfinite(value):
            raise BadCell(f"{shown(text)} is too large a number.")
        _within(value, column)
        return value + 0.0 if value else 0.0

    return read


def _calendar(year: int, month: int, day: int, text: str) -> date:
    try:
        found = date(year, month, day)
    except ValueError:
        raise BadCell(f"{shown(text)} is no day of the calendar.") from None
    if not _FIRST_YEAR <= year <= _LAST_YEAR:
        raise BadCell(f"{shown(text)} lies outside {_FIRST_YEAR} to {_LAST_YEAR}.")
    return found


def _day(text: str, *, day_first: bool) -> date:
    match = _ISO_DAY.match(text)
    if match is not None:
        return _calendar(int(match[1]), int(match[2]), int(match[3]), text)
    match = _DAY_FIRST.match(text)
    if match is not None and match[4] is None:
        if day_first:
            return _calendar(int(match[3]), int(match[2]), int(match[1]), text)
        raise BadCell(_ambiguous(text, int(match[1]), int(match[2]), match[3]))
    raise BadCell(f"{shown(text)} is not a date: write it like 2026-11-24.")


def _ambiguous(text: str, first: int, second: int, year: str) -> str:
    if 1 <= first <= 12 and 1 <= second <= 12 and first != second:
        one, other = f"{year}-{second:02d}-{first:02d}", f"{year}-{first:02d}-{second:02d}"
        return (
            f"{shown(text)} may be {one} or {other}: write the year first, "
            "or import with day-first dates (--day-first)."
        )
    day, month = (first, second) if second <= 12 else (second, first)
    return (
        f"{shown(text)} does not begin with the year: write {year}-{month:02d}-{day:02d}, "
        "or import with day-first dates (--day-first)."
    )


def _moment(text: str, *, day_first: bool) -> datetime:
    if _FULL_MOMENT.match(text):
        return _possible(text, text)
    day_text, time_text = text[:10], text[11:]
    match = _DAY_FIRST.match(text)
    if match is not None and match[4] is not None:
        if not day_first:
            raise BadCell(_ambiguous(text, int(match[1]), int(match[2]), match[3]))
        day_text = _calendar(int(match[3]), int(match[2]), int(match[1]), text).isoformat()
        time_text = match[4]
        if time_text[1:2] == ":":
            time_text = f"0{time_text}"
    elif text[10:11] not in {"T", " "}:
        raise BadCell(_no_moment(text))
    timed = _TIME.match(time_text)
    if timed is None or not _ISO_DAY.match(day_text):
        raise BadCell(_no_moment(text))
    moment = _possible(f"{day_text}T{time_text}", text)
    if timed[1] is None:
        here = timezone.make_aware(moment).isoformat()
        raise BadCell(
            f"{shown(text)} has no offset from universal time: write {here} if it is the "
            "nursery's own time."
        )
    return moment


def _possible(iso: str, text: str) -> datetime:
    try:
        moment = datetime.fromisoformat(iso)
    except ValueError:
        raise BadCell(f"{shown(text)} is no day of the calendar or no time of day.") from None
    if not _FIRST_MOMENT_YEAR <= moment.year <= _LAST_YEAR:
        raise BadCell(f"{shown(text)} lies outside {_FIRST_MOMENT_YEAR} to {_LAST_YEAR}.")
    return moment


def _no_moment(text: str) -> str:
    return (
        f"{shown(text)} is not a date with a time and an offset: "
        "write it like 2026-11-24T09:12:00+00:00."
    )


def _yes(text: str) -> bool:
    if text.casefold() == "yes":
        return True
    raise BadCell(f"{shown(text)} stands where only yes or nothing may: write yes, or empty it.")


def _id(text: str) -> uuid.UUID:
    if not _UUID.match(text):
        raise BadCell(
            f"{shown(text)} is not an id (a UUID, like 0b6f3a0e-2f2b-4b0e-8d0a-0d2f0a1b2c3d)."
        )
    return uuid.UUID(text)


# Writing


def _write_number(value: float) -> str:
    text = repr(float(value))
    return text[:-2] if text.endswith(".0") else text


def _write_codes(value: tuple[str, ...] | str) -> str:
    return " ".join(value.split() if isinstance(value, str) else value)


def _write_moment(value: datetime) -> str:
    return timezone.localtime(value).isoformat()


_WRITERS: dict[Kind, Callable[[Any], str]] = {
    Kind.TEXT: guarded,
    Kind.REFS: _write_codes,
    Kind.NUMBER: _write_number,
    Kind.DAY: lambda value: str(value.isoformat()),
    Kind.MOMENT: _write_moment,
    Kind.YES: lambda value: "yes" if value else "",
}


def writer_of(column: Column) -> Callable[[Any], str]:
    """Return the function that writes this column's values; None becomes an empty cell."""
    write = _WRITERS.get(column.kind, str)
    return lambda value: "" if value is None else write(value)
