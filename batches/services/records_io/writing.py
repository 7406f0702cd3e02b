"""How is everything written out, so that it can be read without this program and taken in again?"""

from __future__ import annotations

import os
import secrets
import shutil
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import IO

from django.db import connection, transaction
from django.utils import timezone

from batches.core.errors import NurseryError
from batches.services.records_io.cells import writer_of
from batches.services.records_io.columns import FILES
from batches.services.records_io.descriptor import descriptor_text
from batches.services.records_io.kinds import RecordsFile
from batches.services.records_io.opening import DESCRIPTOR
from batches.services.records_io.stored import stored_rows

_QUOTED = frozenset(',"\r\n')
_PORTION = 2_000


class CannotWrite(NurseryError):
    """The folder or zip cannot be written."""


def export_records(*, path: Path, now: datetime) -> dict[str, int]:
    """Write all records into a folder, or into a zip where the path ends in ``.zip``.

    Every file of the records is written, also those without rows, and datapackage.json. A folder
    is made where needed; files of the records in it are replaced when all new ones are written,
    other files are left alone. Everything is written as it was at one moment.

    Parameters
    ----------
    now : datetime
        The date that the files in a zip bear. The files themselves do not hold it: two exports of
        the same records are the same.

    Returns
    -------
    dict of str to int
        Rows by file name.

    Raises
    ------
    CannotWrite
        When the disk or the rights do not allow it; what stood there before still stands.
    """
    draft = path.parent / f".{path.name}-{secrets.token_hex(6)}"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            return _export(path, draft, now)
        finally:
            _remove(draft)
    except OSError as error:
        raise CannotWrite(
            f"The records could not be written to {path} ({error.strerror or error}). What stood "
            "there before was left as it was. Choose another place, or make room."
        ) from error


def _export(path: Path, draft: Path, now: datetime) -> dict[str, int]:
    if path.suffix.casefold() == ".zip":
        with zipfile.ZipFile(draft, "x", zipfile.ZIP_DEFLATED) as packed:
            counts = _write_all(lambda name: _zip_member(packed, name, now))
        draft.replace(path)
        return counts
    draft.mkdir()
    counts = _write_all(lambda name: (draft / name).open("xb"))
    path.mkdir(exist_ok=True)
    for written in sorted(draft.iterdir()):
        os.replace(written, path / written.name)  # noqa: PTH105 - beside the folder, same disk
    return counts


def _remove(draft: Path) -> None:
    if draft.is_dir():
        shutil.rmtree(draft, ignore_errors=True)
    else:
        draft.unlink(missing_ok=True)


def _zip_member(packed: zipfile.ZipFile, name: str, now: datetime) -> IO[bytes]:
    local = timezone.localtime(now)
    member = zipfile.ZipInfo(name, date_time=local.timetuple()[:6])
    member.compress_type = zipfile.ZIP_DEFLATED
    member.external_attr = 0o600 << 16
    return packed.open(member, "w", force_zip64=True)


def _write_all(open_file: Callable[[str], IO[bytes]]) -> dict[str, int]:
    counts = {}
    with one_moment():
        for file in FILES:
            with open_file(file.file_name) as out:
                counts[file.file_name] = _write_file(file, out)
    with open_file(DESCRIPTOR) as out:
        out.write(descriptor_text().encode())
    return counts


def _write_file(file: RecordsFile, out: IO[bytes]) -> int:
    out.write((",".join(file.by_name) + "\n").encode())
    count = 0
    portion: list[str] = []
    for line in _lines(file):
        portion.append(line)
        count += 1
        if len(portion) == _PORTION:
            out.write("".join(portion).encode())
            portion.clear()
    out.write("".join(portion).encode())
    return count


def _lines(file: RecordsFile) -> Iterator[str]:
    writers = [writer_of(column) for column in file.columns]
    rows = (
        [write(value) for write, value in zip(writers, values, strict=True)]
        for values in stored_rows(file)
    )
    if file.key == "code":
        # By the code's characters: what a database calls alphabetical differs between databases.
        return (csv_line(cells) for cells in sorted(rows, key=lambda cells: cells[0]))
    if not file.key:
        day = [column.name for column in file.columns].index(file.order[0])
        return (csv_line(cells) for cells in sorted(rows, key=lambda cells: (cells[day], cells)))
    return map(csv_line, rows)


def csv_line(cells: list[str]) -> str:
    """Return a line of CSV after RFC 4180 but for its end, which is a line feed alone.

    A cell that holds a separator, a quotation mark or a line end of any kind is quoted.
    """
    joined = ",".join(cells)
    if joined.count(",") != len(cells) - 1 or not _QUOTED.isdisjoint(joined.replace(",", "")):
        joined = ",".join(
            cell if _QUOTED.isdisjoint(cell) else '"' + cell.replace('"', '""') + '"'
            for cell in cells
        )
    return joined + "\n"


@contextmanager
def one_moment() -> Iterator[None]:
    """Read everything as it is now, whatever is written meanwhile, and keep no writer waiting.

    On SQLite an open SELECT holds the moment for all others on the same connection (“Isolation
    In SQLite”, sqlite.org); a transaction of ours would take the write lock. On PostgreSQL a
    transaction of isolation level REPEATABLE READ does it.
    """
    if connection.in_atomic_block:
        yield
    elif connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SELECT name FROM sqlite_master")
            cursor.fetchone()
            yield
    else:
        with transaction.atomic():
            with connection.cursor() as cursor:
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield
