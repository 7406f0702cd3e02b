"""Which columns and rows does a spreadsheet hold that was saved as CSV?"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from batches.core.errors import NurseryError
from batches.services.records_io.reading import CannotDecode, decoded

#: a sowing book of a hundred years has fewer
MOST_ROWS = 20_000
MOST_COLUMNS = 60
_SEPARATORS = (",", ";", "\t", "|")
#: how files begin that are no text, and what they are
_NOT_TEXT = (
    (b"PK\x03\x04", "a spreadsheet or zip file"),
    (b"\xd0\xcf\x11\xe0", "an older spreadsheet file"),
    (b"%PDF", "a PDF"),
)
SAVE_AS = "Open it in the spreadsheet program and save it as CSV (UTF-8)."


class NoBook(NurseryError):
    """The file holds no table that can be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookRow:
    """A row: the line of the file it begins on (from 1), and its cells, as wide as the header."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Book:
    """The table: headers as they stand, rows that are not blank."""

    headers: tuple[str, ...]
    rows: tuple[BookRow, ...]

    def samples(self, column: int, *, most: int = 3) -> tuple[str, ...]:
        """Return the first different cells of a column that hold something."""
        found: dict[str, None] = {}
        for row in self.rows:
            if row.cells[column]:
                found[row.cells[column][:60]] = None
            if len(found) == most:
                break
        return tuple(found)


def read_book(data: bytes) -> Book:
    """Return the table of a CSV file, whatever separates its cells and however it is encoded.

    The first line that is not blank holds the headers; a column without one is called by its place.

    Raises
    ------
    NoBook
        When it is no text, holds no table, or more than `MOST_ROWS` rows.
    """
    for begins, what in _NOT_TEXT:
        if data.startswith(begins):
            raise NoBook(f"This is {what}, not CSV. {SAVE_AS} Nothing was stored.")
    try:
        text = decoded(data)
    except CannotDecode as error:
        raise NoBook(f"In this file, {error} Nothing was stored.") from None
    lines = _lines(text)
    if len(lines) < 2:
        raise NoBook(
            "The file holds no rows under a line of column names. Nothing was stored; the first "
            "line names the columns, each line below is one sowing."
        )
    width = max(len(cells) for _, cells in lines)
    if width < 2:
        raise NoBook(
            "The file holds one column alone: nothing separates its cells. " + SAVE_AS
            + " Nothing was stored."
        )  # fmt: skip
    if len(lines) - 1 > MOST_ROWS or width > MOST_COLUMNS:
        raise NoBook(
            f"The file holds {len(lines) - 1:,} rows and {width} columns; {MOST_ROWS:,} and "
            f"{MOST_COLUMNS} are read at a time. Nothing was stored; part it."
        )
    fitted = [(line, cells + [""] * (width - len(cells))) for line, cells in lines]
    headers = [cell or f"column {place}" for place, cell in enumerate(fitted[0][1], start=1)]
    return Book(
        headers=tuple(headers),
        rows=tuple(BookRow(line=line, cells=tuple(cells)) for line, cells in fitted[1:]),
    )


def _lines(text: str) -> list[tuple[int, list[str]]]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    named = first.lower().startswith("sep=") and len(first.strip()) == len("sep=") + 1
    separator = first.strip()[-1] if named else max(_SEPARATORS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    found: list[tuple[int, list[str]]] = []
    begins = 1
    try:
        for cells in reader:
            tidy = [" ".join(cell.split()) for cell in cells]
            if any(tidy) and not (named and not found and tidy[0].lower().startswith("sep=")):
                found.append((begins, tidy))
            begins = reader.line_num + 1
    except csv.Error:
        raise NoBook(
            f"On line {begins} a quotation mark is opened and not closed, or stands alone inside "
            "a quoted cell: write it twice there. Nothing was stored."
        ) from None
    return found
