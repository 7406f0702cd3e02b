"""What is in a backup, and is it whole?

One zip file: `nursery.sqlite3` (all records), `photos/`, and `manifest.json`, which holds the hash
and size of each, the number of rows of each kind, and how far the database's form had come.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import zipfile
import zlib
from collections.abc import Callable
from contextlib import closing
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, cast

from batches.core.errors import NurseryError
from batches.models.guards import GUARDED_TABLES

DATABASE = "nursery.sqlite3"
PHOTOS = "photos"
MANIFEST = "manifest.json"
FORMAT = 1
BLOCK = 1024 * 1024


class BadBackup(NurseryError):
    """The file is no backup of this program, or it is damaged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup says of itself; `files` maps a name to its SHA-256."""

    format: int
    made_at: str
    rows: dict[str, int]
    migrations: list[str]
    files: dict[str, str]
    #: digest of each table that is only added to; copies made before there were any name none
    events: dict[str, str] = field(default_factory=dict)

    def as_json(self) -> str:
        """Give the manifest as it stands in the file."""
        return json.dumps(asdict(self), indent=1, sort_keys=True, ensure_ascii=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class UnpackedBackup:
    """A backup whose every file was read and found whole: its database and photos in a folder."""

    database: Path
    photos: Path
    manifest: Manifest


def sha256_of(file: BinaryIO) -> str:
    """Give the SHA-256 of what is left to read of a file."""
    seen = hashlib.sha256()
    while block := file.read(BLOCK):
        seen.update(block)
    return seen.hexdigest()


def sha256_of_path(path: Path) -> str:
    """Give the SHA-256 of a file."""
    with path.open("rb") as file:
        return sha256_of(file)


def faults_of_database(path: Path) -> list[str]:
    """Give what SQLite finds wrong with a database file; nothing where it is whole."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as database:
            said = [row[0] for row in database.execute("PRAGMA integrity_check")]
            astray = [row[0] for row in database.execute("PRAGMA foreign_key_check")]
    except sqlite3.DatabaseError as error:
        return [str(error)]
    return [words for words in said if words != "ok"] + [
        f"a row of {table} names one that is not there" for table in sorted(set(astray))
    ]


def migrations_in(path: Path) -> list[str]:
    """Give the changes to its form that a database file has been through."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as database:
        rows = database.execute("SELECT app, name FROM django_migrations ORDER BY id")
        return [f"{app}.{name}" for app, name in rows]


def rows_in(path: Path) -> dict[str, int]:
    """Give how many rows of each kind of this program's own a database file holds."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as database:
        names = database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name GLOB 'batches_*'"
        )
        counts = {}
        for (name,) in names.fetchall():
            (count,) = database.execute(f'SELECT count(*) FROM "{name}"').fetchone()  # noqa: S608
            counts[name.removeprefix("batches_")] = int(count)
    return dict(sorted(counts.items()))


def event_digests(path: Path) -> dict[str, str]:
    """Give the SHA-256 of the rows of each table that is only ever added to, by the table's name.

    Each row in the order of its first column, as a line of JSON (text as it is, no blanks).
    Whoever holds these few lines can tell later whether a copy holds the same looks and counts.
    """
    digests = {}
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as database:
        there = {row[0] for row in database.execute("SELECT name FROM sqlite_master")}
        for table in sorted(there.intersection(GUARDED_TABLES)):
            seen = hashlib.sha256()
            for row in database.execute(f'SELECT * FROM "{table}" ORDER BY 1'):  # noqa: S608
                line = json.dumps(row, ensure_ascii=False, separators=(",", ":"))
                seen.update(line.encode() + b"\n")
            digests[table.removeprefix("batches_")] = seen.hexdigest()
    return digests


def read_manifest(backup: zipfile.ZipFile) -> Manifest:
    """Give what a backup says of itself.

    Raises
    ------
    BadBackup
        It says nothing, or nothing that this program understands.
    """
    try:
        said: dict[str, Any] = json.loads(backup.read(MANIFEST))
        manifest = Manifest(**said)
    except (KeyError, ValueError, TypeError, zipfile.BadZipFile, OSError) as error:
        raise BadBackup(
            f"{backup.filename} is no backup of this program: it has no readable list of contents. "
            "Nothing was changed."
        ) from error
    if manifest.format != FORMAT:
        raise BadBackup(
            f"{backup.filename} was made by a newer program (form {manifest.format}, "
            f"known here is {FORMAT}). Nothing was changed. Update the program first."
        )
    return manifest


def read_through(file: Path) -> Manifest:
    """Read a backup from end to end and compare every file in it with its hash.

    Raises
    ------
    BadBackup
        It cannot be opened, lacks a file, or holds one that was changed since it was made.
    """
    return _each_file(file, lambda _name, packed: sha256_of(packed))


def unpack(file: Path, *, into: Path) -> UnpackedBackup:
    """Unpack a backup into an empty folder, every file compared with its hash, the records checked.

    Raises
    ------
    BadBackup
        As `read_through`, or the records in it are damaged.
    """

    def write(name: str, packed: BinaryIO) -> str:
        target = into / name
        target.parent.mkdir(exist_ok=True)
        with target.open("wb") as written:
            shutil.copyfileobj(packed, written, BLOCK)
            written.flush()
            os.fsync(written.fileno())
        return sha256_of_path(target)

    manifest = _each_file(file, write)
    unpacked = UnpackedBackup(database=into / DATABASE, photos=into / PHOTOS, manifest=manifest)
    faults = faults_of_database(unpacked.database)
    if faults:
        raise BadBackup(
            f"The records in {file} are damaged: {faults[0]}. Nothing was changed. "
            "Take an older backup."
        )
    if rows_in(unpacked.database) != manifest.rows:
        raise BadBackup(
            f"{file} does not hold as many rows as it says. Nothing was changed. "
            "Take an older backup."
        )
    found = event_digests(unpacked.database) if manifest.events else {}
    for table, said in manifest.events.items():
        if found.get(table) != said:
            raise BadBackup(
                f"{file} does not hold the rows of {table} that it says. Nothing was changed. "
                "Take an older backup."
            )
    unpacked.photos.mkdir(exist_ok=True)
    return unpacked


def _each_file(file: Path, hash_of: Callable[[str, BinaryIO], str]) -> Manifest:
    """Hand every file of a backup to `hash_of`, and compare what it gives with the manifest."""
    try:
        with zipfile.ZipFile(file) as backup:
            manifest = read_manifest(backup)
            if DATABASE not in manifest.files:
                raise BadBackup(f"{file} holds no records. Nothing was changed.")
            for name, expected in manifest.files.items():
                _refuse_outside(file, name)
                with backup.open(name) as packed:
                    found = hash_of(name, cast("BinaryIO", packed))
                if found != expected:
                    raise BadBackup(
                        f"In {file}, {name} is not what it was when the backup was made. "
                        "Nothing was changed. Take an older backup."
                    )
    except (zipfile.BadZipFile, zlib.error, EOFError, KeyError) as error:
        raise BadBackup(
            f"{file} cannot be read as a backup: it is damaged or not whole. Nothing was changed. "
            "Take an older backup."
        ) from error
    except FileNotFoundError as error:
        raise BadBackup(f"There is no file {file}. Nothing was changed.") from error
    return manifest


def _refuse_outside(file: Path, name: str) -> None:
    """Refuse a name that leads out of the folder it would be unpacked to."""
    folder, _, last = name.rpartition("/")
    if (
        folder not in {"", PHOTOS}
        or not last
        or last.startswith(".")
        or "\\" in last
        or ":" in last
    ):
        raise BadBackup(f"{file} names a file outside itself: {name}. Nothing was changed.")
