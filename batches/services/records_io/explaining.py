"""How is the format explained to people? docs/records.md, made from the table of columns."""

from __future__ import annotations

from batches.services.records_io.columns import (
    FILES,
    FORMAT_VERSION,
    NOTE,
    STAGES,
)
from batches.services.records_io.kinds import Column, Kind, RecordsFile

_HEAD = """# The records format

Made from the program's own table of columns; a test keeps it true. To write it anew:
`manage.py export_records --describe > docs/records.md`.

Version {version}. All records of a nursery as a folder of CSV files, or a zip of such a folder.
`manage.py import_records PATH` reads it, `manage.py export_records PATH` writes it, the page
*Records* does both.

## Rules for all files

- UTF-8, a header row, a comma between cells, dates as `2026-11-24`, times with their offset as
  `2026-11-24T09:12:00+00:00`, a decimal point. An empty cell is unknown. ★ marks a required column;
  another one may be absent, and so may a file: it then has no rows.
- `datapackage.json` describes every column for other programs (Frictionless Data Package and Table
  Schema) and carries the version of the format. It is always written, and may be absent on import.
- Import is all or none. Everything wrong is reported as `file:line: column: what is wrong, what
  would be right`; nothing is stored then.
- What exists already under a code or id: an equal row changes nothing, a different one is an error
  that names both. Cells that are empty, and columns that are absent, are unknown and do not differ;
  in a column that stands there, a yes-cell left empty is a no. Import changes nothing stored.
- *Codes*: 1 to 32 of `A-Z a-z 0-9 - . _`, the first and the last a letter or a digit; kept as they
  are, capitals too; unique across all files. A code that Frondbook might give out later is passed
  over from then on.
- *Ids* are UUIDs. One may be left empty by hand: it is then made from the row and from the
  how-manieth such row it is, so that importing the file twice stores it once. Germination tests and
  readings have no id: as many equal rows are left out as are stored.
- Rows are written in order of code, or of date and id. Import, export, import into an empty
  nursery and export again give the same files.
- Text that begins with `=`, `+`, `-` or `@` (after any apostrophes) is written behind one `'`, so
  that a spreadsheet does not run it; text with white space at an end, which would be trimmed,
  between two. Reading takes exactly those away. Numbers stay numbers.
- Strike-outs: nothing is deleted. A row with `strikes_out` copies the tray and the required columns
  of the row that it names, and does not count itself.

Habits of spreadsheets that are met: a byte-order mark, UTF-16 with one, cp1252, `;` or tab between
cells, a first line `sep=;`, headers in capitals, spaces round cells, mixed line ends, blank rows,
and dates like `24/11/2026` with `--day-first` or the tick on the page. Without it such a date is an
error, for 03/04 may be either.

Not in these files, but in a backup: photos, people, tablets, settings, labels laid out ahead, what
is left of a lot, lots that are used up, orders that are closed, examinations.

## Files
"""

_KIND_WORDS = {
    Kind.CODE: "code",
    Kind.WHOLE: "whole number",
    Kind.NUMBER: "number",
    Kind.DAY: "date",
    Kind.MOMENT: "time with offset",
    Kind.YES: "`yes` or nothing",
    Kind.ID: "id",
    Kind.ROW: "id of a row of this file",
}


def records_page() -> str:
    """Return docs/records.md as Markdown."""
    parts = [_HEAD.format(version=FORMAT_VERSION)]
    parts += [_file_part(file) for file in FILES]
    return "\n".join(parts)


def _file_part(file: RecordsFile) -> str:
    lines = [
        f"### {file.file_name}",
        "",
        file.about,
        "",
        "| column | holds | about |",
        "|---|---|---|",
    ]
    lines += [
        f"| {column.name}{' ★' if column.required else ''} | {_holds(column)} | {column.about} |"
        for column in file.columns
    ]
    return "\n".join(lines) + "\n"


def _holds(column: Column) -> str:
    if column.kind is Kind.TEXT:
        return "text" if column.longest == NOTE else f"text, up to {column.longest}"
    if column.kind is Kind.REF:
        return f"code of {column.refers[0]}.csv"
    if column.kind is Kind.REFS:
        files = ", ".join(f"{name}.csv" for name in column.refers)
        return f"codes of {files}, spaces between"
    if column.kind in {Kind.WORD, Kind.WORDS}:
        if column.words == STAGES:
            words = "a stage: " + " ".join(f"`{word}`" for word in column.words)
        else:
            words = " ".join(f"`{word}`" for word in column.words)
        return words + (", spaces between" if column.kind is Kind.WORDS else "")
    return _KIND_WORDS[column.kind] + _bounds(column)


def _bounds(column: Column) -> str:
    least, most = column.least, column.most
    if column.kind not in {Kind.WHOLE, Kind.NUMBER}:
        return ""
    usual = most is None or most >= 32_767
    if least is not None and least > -1_000 and not usual:
        return f", {least:g} to {most:g}"
    return f", {least:g} or more" if least is not None and least > -1_000 else ""
