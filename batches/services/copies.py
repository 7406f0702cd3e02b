"""Which copies of everything are there, and how does one come onto a stick?

A copy is a file that `backup` made. Those in the data folder and on a stick are thinned out by
age; files of any other name are left alone.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.utils import timezone

from batches.core.rotation import worth_keeping
from batches.models import Tray
from batches.services import backup_file
from batches.services.backup import STEM, BackupFailed, make_backup, sync_folder

#: where copies lie in the data folder and on a stick
FOLDER, STICK_FOLDER = "backups", "frondbook"
#: a file of this name, whatever is in it, makes a stick one for copies
MARKER = "frondbook-stick.txt"
BEFORE_IMPORT, BEFORE_UPDATE = "before-import", "before-update"
#: copies of the records alone, made before an import or an update, that are kept of each kind
MOST_BEFORE = 10
#: a last good copy older than this is told in red
TOO_OLD = timedelta(days=3)
_NAME = re.compile(
    rf"(?P<stem>{STEM}|{BEFORE_IMPORT}|{BEFORE_UPDATE})-(?P<at>\d{{8}}-\d{{6}})(-\d+)?\.zip"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Copy:
    """A copy: its file, when it was made, its size in bytes."""

    file: Path
    made_at: datetime
    size: int


def copies_in(folder: Path, *, stem: str = STEM) -> tuple[Copy, ...]:
    """Return the copies in a folder, newest first; none where there is no such folder."""
    found = []
    with suppress(OSError):
        for file in folder.iterdir():
            named = _NAME.fullmatch(file.name)
            if named is not None and named["stem"] == stem:
                at = datetime.strptime(named["at"], "%Y%m%d-%H%M%S")  # noqa: DTZ007
                moment = timezone.make_aware(at)
                found.append(Copy(file=file, made_at=moment, size=file.stat().st_size))
    return tuple(sorted(found, key=lambda one: (one.made_at, one.file.name), reverse=True))


def make_copy(*, data: Path, photos: Path, now: datetime) -> Copy:
    """Make a copy of everything in the data folder, and thin out the older ones.

    Raises
    ------
    BackupFailed
        In words; older copies are untouched.
    """
    folder = data / FOLDER
    made = make_backup(folder=folder, photos=photos, now=timezone.localtime(now))
    thin_out(folder)
    return next(one for one in copies_in(folder) if one.file == made.file)


def copy_before(*, deed: str, data: Path, now: datetime) -> Path:
    """Copy the records alone, before an import or an update (`deed`) changes them.

    Raises
    ------
    BackupFailed
        In words; then the deed is better left.
    """
    folder = data / FOLDER
    made = make_backup(folder=folder, photos=None, now=timezone.localtime(now), stem=deed)
    for old in copies_in(folder, stem=deed)[MOST_BEFORE:]:
        old.file.unlink(missing_ok=True)
    return made.file


def copy_before_import(*, data: Path, now: datetime) -> None:
    """Copy the records before an import adds to them; a nursery without trays has none to copy."""
    if Tray.objects.exists():
        copy_before(deed=BEFORE_IMPORT, data=data, now=now)


def thin_out(folder: Path) -> None:
    """Remove the copies in a folder that newer ones stand for."""
    copies = copies_in(folder)
    kept = worth_keeping(one.made_at for one in copies)
    for one in copies:
        if one.made_at not in kept:
            one.file.unlink(missing_ok=True)


def sticks(roots: Iterable[Path]) -> tuple[Path, ...]:
    """Return the folders with the marker file: each root, what lies in it, and in that again."""
    found = []
    for root in roots:
        for pattern in ("", "*/", "*/*/"):
            with suppress(OSError):
                found += [marker.parent for marker in root.glob(pattern + MARKER)]
    return tuple(dict.fromkeys(found))


def copy_to_stick(copy: Copy, *, stick: Path) -> Copy:
    """Copy a copy onto a stick, read it again from there, and thin out the older ones.

    Raises
    ------
    BackupFailed
        In words; what was on the stick is untouched.
    """
    folder = stick / STICK_FOLDER
    target, draft = folder / copy.file.name, folder / f".{copy.file.name}.part"
    try:
        if not target.exists():
            folder.mkdir(exist_ok=True)
            with copy.file.open("rb") as source, draft.open("wb") as written:
                shutil.copyfileobj(source, written, backup_file.BLOCK)
                written.flush()
                os.fsync(written.fileno())
            if backup_file.sha256_of_path(draft) != backup_file.sha256_of_path(copy.file):
                raise BackupFailed(
                    f"What was written to {stick} does not read back the same. It was not kept: "
                    "take another stick."
                )
            draft.replace(target)
            sync_folder(folder)
        thin_out(folder)
        return Copy(file=target, made_at=copy.made_at, size=target.stat().st_size)
    except OSError as error:
        raise BackupFailed(
            f"The copy could not be written to {stick} ({error.strerror}). What was there is "
            "untouched. Make room on the stick, or take another."
        ) from error
    finally:
        with suppress(OSError):
            draft.unlink(missing_ok=True)
