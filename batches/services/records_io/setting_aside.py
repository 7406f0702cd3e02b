"""Where do uploaded records wait while somebody looks at what is in them?

As one zip in the data folder, under a name that nobody can guess; a day later it is gone.
"""

from __future__ import annotations

import re
import secrets
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from batches.core.errors import NotPossibleNow
from batches.services.records_io.opening import CannotOpen, pack

_KEPT_FOR = timedelta(days=1)
_TOKEN = re.compile(r"[A-Za-z0-9_-]{20,64}\Z")
_ZIP_BEGINS = b"PK"


def set_aside(files: Sequence[tuple[str, bytes]], *, folder: Path, now: datetime) -> str:
    """Keep uploaded files, one zip or some CSV files with their names; return their token.

    Raises
    ------
    CannotOpen
        When a zip comes together with other files, or two files bear one name.
    NotPossibleNow
        When the disk is full.
    """
    zips = [name for name, data in files if data.startswith(_ZIP_BEGINS)]
    if zips and len(files) > 1:
        raise CannotOpen(
            f"{zips[0]} is a zip and came with {len(files) - 1} other files. Nothing was stored; "
            "send one zip alone, or the CSV files."
        )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _clear_old(folder, now)
    token = secrets.token_urlsafe(24)
    path = folder / f"{token}.zip"
    try:
        if zips:
            path.write_bytes(files[0][1])
        else:
            pack(files, path=path)
    except OSError as error:
        path.unlink(missing_ok=True)
        raise NotPossibleNow(
            f"The files could not be kept for a look ({error.strerror or error}). Nothing was "
            "stored; make room on the disk and send them again."
        ) from error
    return token


def waiting(token: str, *, folder: Path) -> Path:
    """Return where the files of a token lie.

    Raises
    ------
    NotPossibleNow
        When they were stored, dropped or cleared away already.
    """
    path = folder / f"{token}.zip"
    if not _TOKEN.match(token) or not path.is_file():
        raise NotPossibleNow(
            "These files are not kept any more: they were stored or dropped already, or lay here "
            "for more than a day. Send them again; what is stored is not stored twice."
        )
    return path


def drop(token: str, *, folder: Path) -> None:
    """Delete the files of a token; nothing happens where there are none."""
    if _TOKEN.match(token):
        (folder / f"{token}.zip").unlink(missing_ok=True)


def _clear_old(folder: Path, now: datetime) -> None:
    oldest = (now - _KEPT_FOR).timestamp()
    for path in folder.glob("*.zip"):
        if path.stat().st_mtime < oldest:
            path.unlink(missing_ok=True)
