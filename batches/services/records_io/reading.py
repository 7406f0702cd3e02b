"""What do the bytes of a CSV file say, however a spreadsheet wrote them?

Met: a byte-order mark, UTF-16 with one, cp1252, `;` or tab between cells, a first line `sep=;`,
mixed line ends, capital or spaced headers, blank rows, empty columns at the end.
"""

from __future__ import annotations

import codecs
import csv
import io
import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any

from batches.services.records_io.cells import BadCell, Reader, reader_of
from batches.services.records_io.columns import FORMAT_VERSION
from batches.services.records_io.faults import (
    WHOLE_FILE,
    WHOLE_ROW,
    Faults,
    did_you_mean,
    shown,
)
from batches.services.records_io.kinds import Column, RecordsFile
from batches.services.records_io.opening import DESCRIPTOR

_SEPARATORS = (",", ";", "\t")
_SEP_LINE = re.compile(r"sep=(.)\r?\n?\Z")
#: a cell may be as long as its file: that it is too long for its column is said in words
_FIELD_LIMIT = 2**31 - 1
#: valid multi-byte UTF-8 inside a file that is not valid as a whole
_UTF8_SEQUENCE = re.compile(
    rb"[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3}"
)


@dataclass(slots=True, kw_only=True)
class Sheet:
    """The rows of one file as typed values; ``given`` are the columns that it brought.

    Each row is a named tuple of ``file.row_type``: the columns (None where absent or empty), the
    line it begins on, and whether every cell of it could be read.
    """

    file: RecordsFile
    given: frozenset[str] = frozenset()
    rows: list[Any] = field(default_factory=list)


class CannotDecode(Exception):
    """The bytes are text in none of the encodings; the message says what to do."""


def read_sheet(
    file: RecordsFile,
    data: bytes,
    *,
    day_first: bool,
    faults: Faults,
    progress: Callable[[int], None] | None = None,
) -> Sheet:
    """Return the sheet of one file; what cannot be read is added to the faults."""
    sheet = Sheet(file=file)
    try:
        text = decoded(data)
    except CannotDecode as error:
        faults.add(file, 1, WHOLE_FILE, str(error))
        return sheet
    if not text.strip("\r\n\ufeff"):
        faults.add(file, 1, WHOLE_FILE, "the file is empty: its first line must name the columns.")
        return sheet
    lines = _Lines(file, text, faults)
    header = next(lines, None)
    if header is None:
        return sheet
    places = _places(file, header, faults)
    if places is None:
        return sheet
    sheet.given = frozenset(column.name for _, column in places)
    _read_rows(
        sheet, lines, places, header[1], day_first=day_first, faults=faults, progress=progress
    )
    return sheet


def decoded(data: bytes) -> str:
    """Return the text of a file in UTF-8, cp1252, or UTF-16 with a byte-order mark.

    Raises
    ------
    CannotDecode
        When it is neither.
    """
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError:
            raise CannotDecode(
                "the file begins like UTF-16 and cannot be read as such: save it as “CSV UTF-8”."
            ) from None
    sample = data[:4096]
    if sample.count(0) * 4 > len(sample):
        raise CannotDecode(
            "every other byte is NUL, as in UTF-16 without a byte-order mark: "
            "save the file as “CSV UTF-8”."
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        if _UTF8_SEQUENCE.search(data):
            raise CannotDecode(
                f"the file is UTF-8, but not at line {line}: a character there is damaged. "
                "Write it anew and save the file as “CSV UTF-8”."
            ) from None
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise CannotDecode(
            f"line {line} is neither UTF-8 nor the Windows character set (cp1252): "
            "save the file as “CSV UTF-8”."
        ) from None


class _Lines(Iterator[tuple[int, list[str]]]):
    """The rows that are not blank, each with the line it begins on."""

    def __init__(self, file: RecordsFile, text: str, faults: Faults) -> None:
        self._file = file
        self._faults = faults
        self._skipped = 0
        source = io.StringIO(text, newline="")
        first = source.readline()
        named = _SEP_LINE.match(first)
        if named is not None:
            self._skipped = 1
            first = source.readline()
        separator = named[1] if named is not None else _separator(file, first)
        source.seek(0)
        if named is not None:
            source.readline()
        # Process-wide, and only ever raised: the bound on a cell is its column's.
        csv.field_size_limit(_FIELD_LIMIT)
        self._reader = csv.reader(source, delimiter=separator, strict=True)

    def __next__(self) -> tuple[int, list[str]]:
        while True:
            begins = self._reader.line_num + 1 + self._skipped
            try:
                cells = next(self._reader)
            except csv.Error:
                self._faults.add(
                    self._file, begins, WHOLE_ROW,
                    "a quotation mark is opened here and not closed, or stands alone inside a "
                    "quoted cell: write it twice there. The rows after this one were not read.",
                )  # fmt: skip
                raise StopIteration from None
            if any(cell and not cell.isspace() for cell in cells):
                return begins, cells


def _separator(file: RecordsFile, header: str) -> str:
    """Return the separator under which the header names most of the file's columns."""

    def known(separator: str) -> int:
        return sum(_tidied(cell) in file.by_name for cell in header.split(separator))

    return max(_SEPARATORS, key=known)


def _tidied(header: str) -> str:
    return header.strip().strip("\"'").strip().casefold()


def _places(
    file: RecordsFile, header: tuple[int, list[str]], faults: Faults
) -> list[tuple[int, Column]] | None:
    """Return where each known column stands; None where the header cannot be used at all."""
    line, cells = header
    places: list[tuple[int, Column]] = []
    seen: set[str] = set()
    for place, cell in enumerate(cells):
        name = _tidied(cell)
        if not name:
            continue
        column = file.by_name.get(name)
        if column is None:
            hint = did_you_mean(name, file.by_name)
            if not hint:
                hint = f" The columns are {', '.join(file.by_name)}."
            faults.add(file, line, name[:40], f"there is no such column.{hint}")
        elif name in seen:
            faults.add(file, line, name, "this column stands here twice: keep one of them.")
        else:
            seen.add(name)
            places.append((place, column))
    for column in file.columns:
        if _is_needed(column) and column.name not in seen:
            faults.add(file, line, column.name, f"this column is missing: {column.about}.")
    return places or None


def _is_needed(column: Column) -> bool:
    """Tell whether every row must bring it; an id may be left to the program."""
    return column.required and column.name != "id"


def _read_rows(
    sheet: Sheet,
    lines: _Lines,
    places: list[tuple[int, Column]],
    header: list[str],
    *,
    day_first: bool,
    faults: Faults,
    progress: Callable[[int], None] | None,
) -> None:
    file = sheet.file
    order = {column.name: at for at, column in enumerate(file.columns)}
    readers: list[tuple[int, int, Reader, Column]] = [
        (place, order[column.name], reader_of(column, day_first=day_first), column)
        for place, column in places
    ]
    width = len(header)
    nameless = [place for place, cell in enumerate(header) if not _tidied(cell)]
    # Most cells are empty: they keep what stands here, and are not read at all.
    blank: list[Any] = [None] * len(file.columns)
    for _, at, read, _ in readers:
        blank[at] = read("")
    needed = [(at, column) for _, at, _, column in readers if _is_needed(column)]
    # Without a column that is required no row can be judged: that is one fault, not one a row.
    whole = all(column.name in sheet.given for column in file.columns if _is_needed(column))
    make = file.row_type._make
    for line, cells in lines:
        values = blank.copy()
        sound = whole
        if len(cells) != width or nameless:
            cells, fits = _fitted(file, line, cells, width, nameless, faults)
            sound = whole and fits
        unread: frozenset[str] = frozenset()
        for place, at, read, column in readers:
            if cell := cells[place]:
                try:
                    values[at] = read(cell)
                except BadCell as error:
                    faults.add(file, line, column.name, str(error))
                    unread |= {column.name}
                    sound = False
        for at, column in needed:
            if values[at] is None and column.name not in unread:
                faults.add(file, line, column.name, f"the cell is empty: {column.about}.")
                sound = False
        sheet.rows.append(make((*values, line, sound)))
        if progress is not None and len(sheet.rows) % 2_000 == 0:
            progress(len(sheet.rows))


def _fitted(
    file: RecordsFile,
    line: int,
    cells: list[str],
    width: int,
    nameless: list[int],
    faults: Faults,
) -> tuple[list[str], bool]:
    """Return the cells at the header's width, and whether none stood under no column.

    Spreadsheets leave empty cells at the end of a row away, or add some.
    """
    cells = [*cells, *([""] * (width - len(cells)))]
    loose = [cell for cell in cells[width:] if cell.strip()]
    loose += [cells[place] for place in nameless if cells[place].strip()]
    if loose:
        faults.add(
            file, line, WHOLE_ROW,
            f"{shown(loose[0])} stands under no column: name the column, delete the cell, or "
            "quote the cell before it if that holds the separator.",
        )  # fmt: skip
    return cells, not loose


def judge_descriptor(data: bytes, *, faults: Faults) -> None:
    """Add a fault where datapackage.json cannot be read or names a format of the future.

    What it says of columns is not read: the columns of the format are known.
    """
    try:
        described = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError):
        faults.add(
            DESCRIPTOR, 1, WHOLE_FILE,
            "the file is not JSON in UTF-8: take it out; it may be absent on import.",
        )  # fmt: skip
        return
    version = described.get("version") if isinstance(described, dict) else None
    version = version if isinstance(version, str) else ""
    first = re.match(r"([0-9]{1,6})(?:\.|\Z)", version)
    if first is not None and int(first[1]) > int(FORMAT_VERSION.partition(".")[0]):
        faults.add(
            DESCRIPTOR, 1, "version",
            f"the records are of format {shown(version)}, this program reads {FORMAT_VERSION}: "
            "import them with the newer program.",
        )  # fmt: skip
