"""Which rows are new, which are there already, and which say something else than what is there?"""

from __future__ import annotations

import uuid
from collections import Counter
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from batches.services.codes import noun_of
from batches.services.records_io.cells import writer_of
from batches.services.records_io.columns import FILES, NOUNS, TRAYS
from batches.services.records_io.faults import shown
from batches.services.records_io.kinds import Kind, RecordsFile
from batches.services.records_io.reading import Sheet
from batches.services.records_io.stored import same, stored_rows
from batches.services.records_io.world import Check

#: every id that an import gives is made in this name space
_GIVEN = uuid.UUID("c1f0a6de-52b7-5d0f-8e0c-7b6b3a2d9f41")


def given_id(*words: str) -> uuid.UUID:
    """Return the id that these words always get."""
    return uuid.uuid5(_GIVEN, "\x1f".join(words))


def sift(sheets: dict[str, Sheet], check: Check) -> None:
    """Put the new rows of every sheet into ``check.fresh`` and make their codes known.

    A row that is stored already, or stands twice, is counted and left out; one that says
    something else than what is stored is a fault that names both.
    """
    lines: dict[str, tuple[RecordsFile, int]] = {}
    for file in FILES:
        sheet = sheets.get(file.name)
        if sheet is None:
            continue
        if file.key == "code":
            new = _sift_codes(sheet, check, lines)
        elif file.key == "id":
            new = _sift_ids(sheet, check)
        else:
            new = _sift_whole_rows(sheet)
        check.fresh.rows[file.name] = new
        check.fresh.already[file.name] = len(sheet.rows) - len(new)


def _sift_codes(sheet: Sheet, check: Check, lines: dict[str, tuple[RecordsFile, int]]) -> list[Any]:
    file, world = sheet.file, check.world
    stored_codes = world.stored[file.name]
    held = {
        row[0]: row
        for row in stored_rows(file, keys=[r.code for r in sheet.rows if r.code in stored_codes])
    }
    first: dict[str, Any] = {}
    new = []
    for row in sheet.rows:
        if row.code is None:
            continue
        if row.code in first:
            _judge_repeat(check, file, row, first[row.code])
            continue
        first[row.code] = row
        if row.code in held:
            _judge_stored(check, sheet, row, held[row.code])
            continue
        if row.code in lines:
            other, line = lines[row.code]
            check.fault(
                file, row, "code",
                f"{shown(row.code)} is already the code of a {other.noun} ({other.file_name}:"
                f"{line}); every code stands for one thing. Give this one another.",
            )  # fmt: skip
        elif row.code in world.registered:
            check.fault(file, row, "code", _taken(row.code, file, world.registered[row.code]))
        lines.setdefault(row.code, (file, row.line))
        new.append(row)
        world.add(file, row)
    return new


def _taken(code: str, file: RecordsFile, kind: str) -> str:
    if kind == file.code_kind:
        return (
            f"{shown(code)} was given out here for a {file.noun} that was never filled or was "
            "handed back; a code is never used for another. Give this one another."
        )
    return (
        f"{shown(code)} is stored as the code of a {noun_of(kind)}; every code stands for one "
        "thing. Give this one another."
    )


def _sift_ids(sheet: Sheet, check: Check) -> list[Any]:
    rows = _with_ids(sheet)
    held = _held(sheet.file, rows)
    first: dict[uuid.UUID, Any] = {}
    new = []
    for row in rows:
        if row.id is None:
            continue
        before = first.setdefault(row.id, row)
        if before is not row:
            _judge_repeat(check, sheet.file, row, before)
        elif row.id in held:
            _judge_stored(check, sheet, row, held[row.id])
        else:
            new.append(row)
    return new


def _with_ids(sheet: Sheet) -> list[Any]:
    """Give rows without an id one made from the row and the how-manieth such row it is."""
    times: Counter[tuple[str, ...]] = Counter()
    rows = []
    for row in sheet.rows:
        if row.id is None and row.sound:
            words = tuple(_plain(value) for value in row[1:-2])
            times[words] += 1
            row = row._replace(id=given_id(sheet.file.name, *words, str(times[words])))
        rows.append(row)
    return rows


def _plain(value: Any) -> str:
    """Return one text for a value, however its cell was written."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else ""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return " ".join(value) if isinstance(value, tuple) else str(value)


def _held(file: RecordsFile, rows: list[Any]) -> dict[uuid.UUID, list[Any]]:
    if not file.model._default_manager.exists():
        return {}
    ids = [row.id for row in rows if row.id is not None]
    return {row[0]: row for row in stored_rows(file, keys=ids)}


def _sift_whole_rows(sheet: Sheet) -> list[Any]:
    """Leave out as many equal rows as are stored: such rows have neither code nor id."""
    if not sheet.rows:
        return []
    held = Counter(tuple(row) for row in stored_rows(sheet.file))
    new = []
    for row in sheet.rows:
        values = tuple(row[:-2])
        if row.sound and held[values]:
            held[values] -= 1
        else:
            new.append(row)
    return new


def _judge_repeat(check: Check, file: RecordsFile, row: Any, before: Any) -> None:
    if row[:-2] != before[:-2]:
        what = shown(str(getattr(row, file.key)))
        check.fault(
            file, row, file.key,
            f"{what} stands in line {before.line} already, with other words there: keep the line "
            f"that is right, or give this one another {file.key}.",
        )  # fmt: skip


def _judge_stored(check: Check, sheet: Sheet, row: Any, held: Iterable[Any]) -> None:
    for column, given, stored in zip(sheet.file.columns, row, held, strict=False):
        if column.name not in sheet.given or (column.name == "quantity" and sheet.file is TRAYS):
            continue
        if not same(column, given, stored):
            write = writer_of(column)
            there, here = (
                shown(text) if text else "nothing" for text in (write(stored), write(given))
            )
            check.fault(
                sheet.file, row, column.name,
                f"{shown(str(row[0]))} is stored with {there}, this row says {here}. An import "
                "changes nothing that is stored: leave the row out, or change it in the program.",
            )  # fmt: skip


def refer(check: Check) -> None:
    """Add a fault for every code that a new row names and nothing carries."""
    for file in FILES:
        rows = check.fresh.rows.get(file.name, ())
        for at, column in enumerate(file.columns):
            if column.kind not in {Kind.REF, Kind.REFS} or column.name == "place_or_trays":
                continue
            target = next(noun for noun in NOUNS if noun.name == column.refers[0])
            known = check.world.facts[target.name]
            for row in rows:
                value = row[at]
                if value is None or (value.__class__ is str and value in known):
                    continue
                for code in (value,) if isinstance(value, str) else value:
                    if code not in known:
                        message = check.world.unknown(code, target)
                        check.fault(file, row, column.name, message)


def keep_time(check: Check) -> None:
    """Add a fault for every day and moment of a new row that lies in the future."""
    today, latest = check.bounds.today, check.bounds.latest
    for file in FILES:
        rows = check.fresh.rows.get(file.name, ())
        for at, column in enumerate(file.columns):
            if column.future or column.kind not in {Kind.DAY, Kind.MOMENT}:
                continue
            bound: Any = today if column.kind is Kind.DAY else latest
            write = writer_of(column)
            for row in rows:
                if row[at] is not None and row[at] > bound:
                    check.fault(
                        file, row, column.name,
                        f"{write(row[at])} is in the future (today is {today.isoformat()}): "
                        "write the day on which it happened.",
                    )  # fmt: skip
