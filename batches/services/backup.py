"""How is everything that this nursery owns copied to one file, while work goes on?

The copy is made beside its final name, read again from end to end, and only then given that name:
a file with the name of a backup is a whole one. What was there before is never touched.
"""

from __future__ import annotations

import os
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from batches.core.errors import NurseryError
from batches.services import backup_file, other_database
from batches.services.backup_file import DATABASE, MANIFEST, PHOTOS, Manifest

#: how the file of a whole backup begins
STEM = "frondbook"


class BackupFailed(NurseryError):
    """The backup was not made; older ones are untouched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupMade:
    """A whole backup: its file, that file's SHA-256, and the rows of each kind in it."""

    file: Path
    sha256: str
    rows: dict[str, int]


def make_backup(
    *, folder: Path, photos: Path | None, now: datetime, stem: str = STEM
) -> BackupMade:
    """Copy records and photos to a new file in `folder`, which is made where needed.

    Without `photos` it holds the records alone. The file is called `stem` and the moment.

    Raises
    ------
    BackupFailed
        The folder cannot be written to, is full, or what was written does not read back.
    """
    folder = folder.expanduser().absolute()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".frondbook-", dir=folder) as work:
            return _make(folder=folder, photos=photos, now=now, work=Path(work), stem=stem)
    except (OSError, sqlite3.Error, DatabaseError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BackupFailed(
            f"The backup could not be written to {folder} ({reason}). Nothing of it was kept, and "
            "older backups are untouched. Make room there, or name another folder."
        ) from error


def _make(*, folder: Path, photos: Path | None, now: datetime, work: Path, stem: str) -> BackupMade:
    database = work / DATABASE
    copy_database(to=database)
    faults = backup_file.faults_of_database(database)
    if faults:
        raise BackupFailed(
            f"The records themselves are damaged ({faults[0]}). No backup was made of them. "
            "Older backups are untouched: restore the newest that is whole."
        )
    # The records were copied first: every photo they name is there by now.
    found = [] if photos is None else photos.glob("[!.]*")
    pictures = sorted(path for path in found if path.is_file())
    manifest = Manifest(
        format=backup_file.FORMAT,
        made_at=now.isoformat(),
        rows=backup_file.rows_in(database),
        migrations=backup_file.migrations_in(database),
        events=backup_file.event_digests(database),
        files={
            DATABASE: backup_file.sha256_of_path(database),
            **{f"{PHOTOS}/{path.name}": backup_file.sha256_of_path(path) for path in pictures},
        },
    )
    draft = work / "draft.zip"
    _pack(draft, manifest=manifest, database=database, pictures=pictures)
    database.unlink()
    if backup_file.read_through(draft) != manifest:
        raise BackupFailed("What was written does not read back the same. Nothing was kept.")
    hashed = backup_file.sha256_of_path(draft)
    return BackupMade(
        file=_give_name(draft, folder, f"{stem}-{now:%Y%m%d-%H%M%S}"),
        sha256=hashed,
        rows=manifest.rows,
    )


def copy_database(*, to: Path) -> None:
    """Copy all records, as they are at one moment, to a new SQLite file."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor == "sqlite" and not connection.is_in_memory_db():  # type: ignore[attr-defined]
        name = str(connection.settings_dict["NAME"])
        with closing(sqlite3.connect(name, timeout=20)) as source:
            source.execute("VACUUM INTO ?", [str(to)])
        return
    with other_database.database_file(to) as copy, _one_moment(connection):
        other_database.copy_as_it_is(source=DEFAULT_DB_ALIAS, target=copy)


@contextmanager
def _one_moment(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """See the database as it is now, whatever others store meanwhile."""
    if connection.vendor != "postgresql" or connection.in_atomic_block:
        yield
        return
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        yield


def _pack(draft: Path, *, manifest: Manifest, database: Path, pictures: list[Path]) -> None:
    with draft.open("wb") as file:
        with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=5) as zipped:
            zipped.writestr(MANIFEST, manifest.as_json())
            zipped.write(database, DATABASE)
            for path in pictures:
                zipped.write(path, f"{PHOTOS}/{path.name}", compress_type=zipfile.ZIP_STORED)
        file.flush()
        os.fsync(file.fileno())


def _give_name(draft: Path, folder: Path, stem: str) -> Path:
    """Give a whole backup its final name, which no other file has."""
    for number in range(1, 1000):
        file = folder / (f"{stem}.zip" if number == 1 else f"{stem}-{number}.zip")
        if file.exists():
            continue
        try:
            os.link(draft, file)  # unlike a rename, it never takes another file's place
        except FileExistsError:
            continue
        except OSError:  # a stick whose file system knows no links
            draft.replace(file)
        sync_folder(folder)
        return file
    raise BackupFailed(f"{folder} holds a thousand backups of this second. Nothing was kept.")


def sync_folder(folder: Path) -> None:
    """Make sure that the names in a folder outlast a power cut (not possible on Windows)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
