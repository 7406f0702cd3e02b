"""Is this machine fit for the nursery's records, and are the records whole?

Each finding has advice where something can be done; a finding that is well and has advice all the
same is a caution.
"""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections
from django.db.models import Max

from batches.models import CheckPhoto, Tray, TrayCheck
from batches.models.guards import missing_guards
from batches.services import copies, standing
from batches.services.change_notes import chain_check
from batches.services.data_folder import is_new_database, pending_migrations
from batches.services.local_authority import CertificateUnreadable, read_authority
from batches.services.package_files import package_path
from batches.services.server_certificate import RENEWED_AT, read_server_certificate
from batches.services.stock_check import books_that_differ

#: the first release without the fault described at `_database` (sqlite.org/wal.html, section 11)
SQLITE_WHOLE = (3, 51, 3)
LITTLE_ROOM = 1024**3
CLOCK_AHEAD = timedelta(minutes=5)
PANGO_ADVICE = (
    "Labels cannot be made as PDF; the labels page offers a page to print instead. To have PDFs, "
    "install Pango: on Debian and Ubuntu `sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 "
    "libharfbuzz-subset0`, on macOS `brew install pango`, on Windows GTK for 64-bit Python. "
    "Then start the program again."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What was looked at, whether it is well, and what to do; no advice where nothing need be."""

    check: str
    ok: bool
    advice: str = ""


def findings(*, data: Path, photos: Path, now: datetime) -> tuple[Finding, ...]:
    """Look at everything, whatever is wrong with the rest; in the order of first things first."""
    checks: dict[str, Callable[[], Finding]] = {
        "Python": _python,
        "database": _database,
        "data folder": lambda: _folder(data),
        "room on the disk": lambda: _room(data),
        "form of the records": _form,
        "records whole": _records,
        "stored due dates": _stored_dates,
        "stock book": _book,
        "noted changes": _changes,
        "copies of everything": lambda: _copies(data, now),
        "photos": lambda: _pictures(photos),
        "clock": lambda: _clock(now),
        "certificate for https": lambda: _certificate(data, now),
        "typeface of labels and pages": _fonts,
        "Pango, for labels as PDF": _pango,
    }
    return tuple(_carefully(name, check) for name, check in checks.items())


def _carefully(name: str, check: Callable[[], Finding]) -> Finding:
    """Look, and where looking itself fails, say so in the finding's place."""
    try:
        return check()
    except (DatabaseError, OSError) as error:
        advice = (
            f"It could not be looked at ({error}). Stop the server and restore the newest backup."
            if isinstance(error, DatabaseError)
            else f"It could not be looked at ({error})."
        )
        return Finding(check=name, ok=False, advice=advice)


def _python() -> Finding:
    version = ".".join(map(str, sys.version_info[:3]))
    return Finding(
        check=f"Python {version}",
        ok=sys.version_info >= (3, 11),
        advice="" if sys.version_info >= (3, 11) else "Install Python 3.11 or newer.",
    )


def _database() -> Finding:
    """Name the database's version; SQLite before 3.51.3 has a rare fault in its log's reset.

    Two connections that write and fold the log at the very same moment can damage the file. One
    server process with a write lock of its own keeps its threads from it; commands beside the
    server remain. Debian's releases carry the fault, so it is a caution and no alarm.
    """
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor != "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("SHOW server_version")
            (version,) = cursor.fetchone()
        return Finding(check=f"PostgreSQL {version}", ok=True)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA journal_mode")
        (journal,) = cursor.fetchone()
    # The fault is in the log's reset; without such a log there is none.
    old = sqlite3.sqlite_version_info < SQLITE_WHOLE and journal != "delete"
    return Finding(
        check=f"SQLite {sqlite3.sqlite_version}",
        ok=True,
        advice=(
            "Before 3.51.3, SQLite can very rarely damage its file when two programs write at the "
            "same moment. Import and restore with the server stopped, and keep daily backups; or "
            "set NURSERY_SQLITE_JOURNAL=delete, which is slower and spares you the fault."
            if old
            else ""
        ),
    )


def _folder(data: Path) -> Finding:
    try:
        with tempfile.TemporaryFile(dir=data) as file:
            file.write(b"can it be written to?")
        ok = True
    except OSError:
        ok = False
    advice = f"Give this account the right to write to {data}, or name another in NURSERY_DATA."
    return Finding(check=f"data folder {data}", ok=ok, advice="" if ok else advice)


def _room(data: Path) -> Finding:
    free = shutil.disk_usage(data).free
    return Finding(
        check=f"room on the disk: {free / 1024**3:.1f} GB",
        ok=free >= LITTLE_ROOM,
        advice="" if free >= LITTLE_ROOM else "Make room: photos and backups need 1 GB and more.",
    )


def _form() -> Finding:
    if is_new_database():
        return Finding(check="records: none yet", ok=True)
    pending = pending_migrations()
    return Finding(
        check="records in the form of this program",
        ok=not pending,
        advice=(
            f"{len(pending)} change(s) to make: start the server, which backs up and makes them."
            if pending
            else ""
        ),
    )


def _records() -> Finding:
    """Let SQLite read its whole file; PostgreSQL looks after its own."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor != "sqlite":
        return Finding(check="records whole", ok=True)
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA quick_check")
        said = [row[0] for row in cursor.fetchall()]
        cursor.execute("PRAGMA foreign_key_check")
        astray = cursor.fetchall()
    ok = said == ["ok"] and not astray
    advice = "The records are damaged. Stop the server and restore the newest backup that is whole."
    return Finding(check="records whole", ok=ok, advice="" if ok else advice)


def _stored_dates() -> Finding:
    if is_new_database() or pending_migrations():
        return Finding(check="stored due dates", ok=True)
    trays, wrong = standing.differing()
    return Finding(
        check=f"stored due dates of {trays} trays",
        ok=not wrong,
        advice=(
            f"{len(wrong)} differ from what their history says (first {wrong[0]}). "
            "Run check_stored_dates, and tell whoever looks after the program."
            if wrong
            else ""
        ),
    )


def _book() -> Finding:
    """Add every counted tray's rows of the stock book up, and compare with what is stored."""
    if is_new_database() or pending_migrations():
        return Finding(check="stock book", ok=True)
    trays, wrong = books_that_differ()
    return Finding(
        check=f"stock book of {trays} counted trays",
        ok=not wrong,
        advice=(
            f"{len(wrong)} do not add up (first {wrong[0]}). Print those trays' pages, and tell "
            "whoever looks after the program."
            if wrong
            else ""
        ),
    )


def _changes() -> Finding:
    if is_new_database() or pending_migrations():
        return Finding(check="noted changes", ok=True)
    bare = missing_guards(connections[DEFAULT_DB_ALIAS])
    if bare:
        return Finding(
            check="noted changes",
            ok=False,
            advice=(
                f"Rows of {', '.join(bare)} can be changed or deleted: somebody took the guard "
                "away. Compare with an older copy (check_changes --copy FILE). To put the guard "
                "back, make a copy and restore it."
            ),
        )
    found = chain_check()
    return Finding(
        check=f"noted changes: {found.notes}",
        ok=not found.faults,
        advice=(
            f"{found.faults[0]} Somebody changed the database beside the program, or it is "
            "damaged: compare with a copy (check_changes --copy FILE)."
            if found.faults
            else ""
        ),
    )


def _copies(data: Path, now: datetime) -> Finding:
    if is_new_database() or pending_migrations() or not Tray.objects.exists():
        return Finding(check="copies of everything: nothing to copy yet", ok=True)
    made = copies.copies_in(data / copies.FOLDER)
    age = f"{(now - made[0].made_at).days} days old" if made else "none"
    ok = bool(made) and now - made[0].made_at <= copies.TOO_OLD
    return Finding(
        check=f"copies of everything: the last good one {age}" if made else "copies of everything",
        ok=ok,
        advice="" if ok else "Make one now: page Backups, or manage.py backup FOLDER.",
    )


def _pictures(photos: Path) -> Finding:
    if is_new_database() or pending_migrations():
        return Finding(check="photos", ok=True)
    names = list(CheckPhoto.objects.values_list("file", flat=True))
    lost = [name for name in names if not (photos / name).is_file()]
    return Finding(
        check=f"photos: {len(names)}",
        ok=not lost,
        advice=f"{len(lost)} are missing (first {lost[0]}): restore a backup." if lost else "",
    )


def _clock(now: datetime) -> Finding:
    """Compare the clock with the newest record: this PC may have no other clock to ask."""
    newest = None
    if not is_new_database() and not pending_migrations():
        newest = TrayCheck.objects.aggregate(newest=Max("recorded_at"))["newest"]
    ok = newest is None or newest <= now + CLOCK_AHEAD
    return Finding(
        check=f"clock: {now:%Y-%m-%d %H:%M} {now.tzname()}",
        ok=ok,
        advice=(
            ""
            if ok
            else f"The newest look was stored at {newest:%Y-%m-%d %H:%M} UTC, which is still to "
            "come. Set this machine's clock."
        ),
    )


def _certificate(data: Path, now: datetime) -> Finding:
    """Look how long browsers take the certificate, which a server renews sixty days ahead."""
    try:
        authority = read_authority(data=data)
        served = read_server_certificate(data=data)
    except CertificateUnreadable as error:
        return Finding(check="certificate for https", ok=False, advice=error.message)
    if authority is None or served is None:
        return Finding(check="certificate for https: none yet", ok=True)
    left, said = served.days_left(now), ""
    if authority.until <= now:
        said = (
            "The nursery's authority ended. Start the server with --lan: it is renewed, and each "
            "tablet opens /setup/ again."
        )
    elif left < 0:
        said = "It ended: browsers refuse it. Start the server with --lan, which renews it."
    elif served.until - now <= RENEWED_AT:
        said = f"{left} days are left. A server that runs with --lan renews it within the hour."
    return Finding(
        check=f"certificate for https: until {served.until:%Y-%m-%d}, for {served.hosts[0]}",
        ok=left >= 0 and authority.until > now,
        advice=said,
    )


def _fonts() -> Finding:
    ok = package_path("fonts/regular.woff2") is not None
    advice = "Install the program again: its typeface is missing, and labels need one."
    return Finding(check="typeface of labels and pages", ok=ok, advice="" if ok else advice)


def _pango() -> Finding:
    """Try the label maker in a process of its own: a broken library must not end this one."""
    try:
        done = subprocess.run(
            [sys.executable, "-W", "ignore", "-c", "import weasyprint"],
            capture_output=True,
            check=False,
            timeout=50,
        )
        ok = done.returncode == 0
    except subprocess.TimeoutExpired:
        ok = False
    return Finding(check="Pango, for labels as PDF", ok=ok, advice="" if ok else PANGO_ADVICE)
