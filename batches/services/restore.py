"""How is a backup put in the place of the records, or tried out without touching them?

Everything is unpacked, checked and brought up to date in a folder of its own first. Then the old
records are set aside, and the new ones take their place in one step: whenever the power fails,
either the old or the new ones are there, whole.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections
from django.db.migrations.loader import MigrationLoader

from batches.core.errors import NurseryError
from batches.services import backup_file, generation, other_database
from batches.services.backup import make_backup, sync_folder
from batches.services.backup_file import BadBackup, UnpackedBackup
from batches.services.change_notes import note_change
from batches.services.data_folder import is_new_database, sole_use


class RestoreFailed(NurseryError):
    """The backup was not put in place; the records are what they were."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What a backup held: its file, that file's SHA-256, the rows of each kind.

    `set_aside` is the folder with the records from before; None after a drill, or where there
    were none.
    """

    file: Path
    sha256: str
    rows: dict[str, int]
    set_aside: Path | None


def drill(*, file: Path) -> Restored:
    """Try a backup out in a temporary folder: unpack it, check all of it, bring it up to date.

    Raises
    ------
    BadBackup
        It could not be restored; the message says why.
    """
    with (
        tempfile.TemporaryDirectory(prefix="frondbook-drill-") as work,
        ready_copy(file, Path(work)) as unpacked,
    ):
        return _restored(file, unpacked, set_aside=None)


def restore(*, file: Path, data: Path, photos: Path, now: datetime) -> Restored:
    """Put a backup in the place of the records, which are set aside in the data folder.

    Raises
    ------
    BadBackup
        The file is no whole backup, or one of a newer program.
    DataFolderTaken
        A server runs on this data folder.
    RestoreFailed
        The disk is full, or another command is at work on the records.
    """
    with sole_use(folder=data):
        try:
            with (
                tempfile.TemporaryDirectory(prefix=".restoring-", dir=data) as work,
                ready_copy(file, Path(work)) as unpacked,
            ):
                aside = _new_folder(data, f"set-aside-{now:%Y%m%d-%H%M%S}")
                _begin_generation(unpacked, file=file, now=now)
                _add_photos(unpacked.photos, photos=photos, aside=aside)
                if connections[DEFAULT_DB_ALIAS].vendor == "sqlite":
                    _swap_file(unpacked.database, aside=aside)
                else:
                    _swap_rows(unpacked.database, photos=photos, aside=aside, now=now)
        except (OSError, sqlite3.Error, DatabaseError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise RestoreFailed(
                f"The backup could not be put in place ({reason}). The records are what they were. "
                "Stop other commands, make room on the disk, and try again."
            ) from error
    return _restored(file, unpacked, set_aside=aside if aside.exists() else None)


def _restored(file: Path, unpacked: UnpackedBackup, *, set_aside: Path | None) -> Restored:
    return Restored(
        file=file.expanduser().absolute(),
        sha256=backup_file.sha256_of_path(file),
        rows=unpacked.manifest.rows,
        set_aside=set_aside,
    )


def _new_folder(folder: Path, name: str) -> Path:
    """Give a folder's path that nothing stands at yet; it is made when something goes into it."""
    number, found = 1, folder / name
    while found.exists():
        number += 1
        found = folder / f"{name}-{number}"
    return found


@contextmanager
def ready_copy(file: Path, work: Path) -> Iterator[UnpackedBackup]:
    """Unpack a backup, check it, and bring it up to this program's form."""
    unpacked = backup_file.unpack(file, into=work)
    known = {f"{app}.{name}" for app, name in MigrationLoader(None).disk_migrations}
    newer = [name for name in unpacked.manifest.migrations if name not in known]
    if newer:
        raise BadBackup(
            f"{file} was made by a newer program (it knows {newer[0]}). Nothing was changed. "
            "Update the program first."
        )
    with other_database.database_file(unpacked.database) as copy:
        other_database.bring_up_to_date(copy)
    yield unpacked


def _begin_generation(unpacked: UnpackedBackup, *, file: Path, now: datetime) -> None:
    """Give the restored records a number that no tablet has heard from this nursery."""
    try:
        before = 0 if _is_empty() else generation.current_generation()
    except DatabaseError:
        before = 0  # the records are damaged: that is why a backup is restored
    with other_database.database_file(unpacked.database) as copy:
        number = max(before, generation.current_generation(database=copy)) + 1
        generation.begin_generation(number, database=copy)
        note_change(
            what="backup restored",
            now=now,
            device="command",
            about=file.name,
            after={"sha256": backup_file.sha256_of_path(file), "generation": number},
            database=copy,
        )


def _add_photos(restored: Path, *, photos: Path, aside: Path) -> None:
    """Add the backup's photos; one that is there already with other content is set aside first."""
    photos.mkdir(parents=True, exist_ok=True)
    for picture in sorted(restored.iterdir()):
        place = photos / picture.name
        if place.exists():
            if backup_file.sha256_of_path(place) == backup_file.sha256_of_path(picture):
                continue
            (aside / "photos").mkdir(parents=True, exist_ok=True)
            shutil.copy2(place, aside / "photos" / place.name)
        shutil.move(picture, place.with_name(f".{place.name}.part"))
        place.with_name(f".{place.name}.part").replace(place)
    sync_folder(photos)


def _swap_file(database: Path, *, aside: Path) -> None:
    """Set the old database file aside and give the new one its name."""
    connection = connections[DEFAULT_DB_ALIAS]
    place = Path(connection.settings_dict["NAME"])
    empty = _is_empty()
    connection.close()
    if place.exists():
        aside.mkdir(parents=True, exist_ok=True)
        _fold_log(place, aside=aside)
        os.link(place, aside / place.name)
        sync_folder(aside)
    database.chmod(0o600)
    database.replace(place)
    sync_folder(place.parent)
    if empty:
        shutil.rmtree(aside, ignore_errors=True)


def _is_empty() -> bool:
    """Say whether there are no records yet; damaged ones are some."""
    try:
        return is_new_database()
    except DatabaseError:
        return False


def _fold_log(place: Path, *, aside: Path) -> None:
    """Write the old file's log into it: beside a new file, the old log would be taken for its own.

    Raises
    ------
    RestoreFailed
        Another command is at work on the records.
    """
    try:
        with closing(sqlite3.connect(place, timeout=5)) as old:
            old.execute("PRAGMA journal_mode=DELETE")
    except sqlite3.OperationalError as error:
        raise RestoreFailed(
            "Another command is at work on the records. Nothing was changed. Let it finish first."
        ) from error
    except sqlite3.DatabaseError:
        pass  # damaged beyond reading: its files are set aside as they are
    for end in ("-wal", "-shm"):
        beside = place.with_name(place.name + end)
        if beside.exists():
            beside.replace(aside / beside.name)


def _swap_rows(database: Path, *, photos: Path, aside: Path, now: datetime) -> None:
    """Set the old rows aside as a backup and put the new ones in place, in one transaction."""
    if not _is_empty():
        make_backup(folder=aside, photos=photos, now=now)
    other_database.bring_up_to_date(DEFAULT_DB_ALIAS)
    with other_database.database_file(database) as copy:
        other_database.copy_all_rows(source=copy, target=DEFAULT_DB_ALIAS)
