"""What does the server look after by itself while it runs: copies, a drill, this machine?

A thread beside the pages makes a copy of everything once a day, brings it onto every stick with
the marker file, tries the newest copy out once a week, and looks this machine over every few hours.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from django.db import close_old_connections, connections

from batches.core.errors import NurseryError
from batches.models import Tray
from batches.services import backup_file, change_notes, checkup, copies, restore, upkeep_notes
from batches.services.backup import BackupFailed
from batches.services.days import local_day
from batches.services.upkeep_notes import CHECKUP, COPY, DRILL, STICK

EVERY_S = 60.0
PATIENCE_S = 10.0
#: after a copy that failed, the next try is made this much later
TRY_AGAIN = timedelta(minutes=30)
DRILL_EVERY = timedelta(days=7)
LOOK_OVER_EVERY = timedelta(hours=6)

_log = logging.getLogger(__name__)
#: set when somebody wants a copy now; the rounds take it from there
_asked = threading.Event()
_running = threading.Event()


@dataclass(frozen=True, slots=True, kw_only=True)
class Places:
    """Where the data and the photos are, and under which folders sticks appear."""

    data: Path
    photos: Path
    stick_roots: tuple[Path, ...] = ()


def ask_for_a_copy() -> bool:
    """Ask the rounds for a copy now; False where none run in this process."""
    if not _running.is_set():
        return False
    _asked.set()
    return True


def a_copy_is_asked_for() -> bool:
    """Tell whether a copy was asked for and is not made yet."""
    return _asked.is_set()


def look_after(*, places: Places, now: datetime, copy_now: bool = False) -> None:
    """Do what is due: a copy, its way onto sticks, a drill, a look at this machine."""
    if copy_now or _copy_is_due(places, now):
        keep_copy(places=places, now=now)
    drilled = upkeep_notes.noted(DRILL)
    if drilled is None or now - drilled.at >= DRILL_EVERY:
        try_newest(data=places.data, now=now)
    looked = upkeep_notes.noted(CHECKUP)
    if looked is None or not timedelta() <= now - looked.at < LOOK_OVER_EVERY:
        look_over(places=places, now=now)


def _copy_is_due(places: Places, now: datetime) -> bool:
    """Say whether today has no copy yet, there is something to copy, and no try just failed."""
    made = copies.copies_in(places.data / copies.FOLDER)
    if made and local_day(made[0].made_at) >= local_day(now):
        return False
    last = upkeep_notes.noted(COPY)
    if last is not None and not last.ok and timedelta() <= now - last.at < TRY_AGAIN:
        return False
    return Tray.objects.exists()


def keep_copy(*, places: Places, now: datetime) -> None:
    """Make a copy, bring it onto every stick that is there, and note how it went."""
    try:
        made = copies.make_copy(data=places.data, photos=places.photos, now=now)
    except BackupFailed as error:
        upkeep_notes.note(COPY, at=now, ok=False, words=error.message)
        return
    upkeep_notes.note(COPY, at=now, ok=True, words=made.file.name)
    change_notes.note_change(
        what="copy made",
        now=now,
        device="server",
        about=made.file.name,
        after={"sha256": backup_file.sha256_of_path(made.file)},
    )
    for stick in copies.sticks(places.stick_roots):
        try:
            there = copies.copy_to_stick(made, stick=stick)
        except BackupFailed as error:
            upkeep_notes.note(STICK, at=now, ok=False, words=error.message)
        else:
            upkeep_notes.note(STICK, at=now, ok=True, words=str(there.file))


def try_newest(*, data: Path, now: datetime) -> None:
    """Try the newest copy out in a folder of its own, and note how it went; none, nothing."""
    made = copies.copies_in(data / copies.FOLDER)
    if not made:
        return
    name = made[0].file.name
    try:
        found = restore.drill(file=made[0].file)
    except NurseryError as error:
        upkeep_notes.note(DRILL, at=now, ok=False, words=error.message)
    else:
        rows = sum(found.rows.values())
        change_notes.note_change(what="copy tried out", now=now, device="server", about=name)
        upkeep_notes.note(DRILL, at=now, ok=True, words=f"{name}: {rows:,} rows, all whole")


def look_over(*, places: Places, now: datetime) -> None:
    """Look this machine over as `doctor` does, and note what is amiss, a line each."""
    found = checkup.findings(data=places.data, photos=places.photos, now=now)
    amiss = [f"{one.check}: {one.advice}" for one in found if not one.ok]
    upkeep_notes.note(CHECKUP, at=now, ok=not amiss, words="\n".join(amiss))


@contextmanager
def rounds(
    *, places: Places, clock: Callable[[], datetime], every: float = EVERY_S
) -> Iterator[None]:
    """Look after all of it in the background until the block ends."""
    stop = threading.Event()
    thread = threading.Thread(
        target=_until_told, args=(stop, places, clock, every), name="upkeep", daemon=True
    )
    _running.set()
    thread.start()
    try:
        yield
    finally:
        _running.clear()
        stop.set()
        _asked.set()
        thread.join(PATIENCE_S)
        _asked.clear()


def _until_told(
    stop: threading.Event, places: Places, clock: Callable[[], datetime], every: float
) -> None:
    try:
        while True:
            asked = _asked.wait(every)
            if stop.is_set():
                return
            try:
                close_old_connections()
                look_after(places=places, now=clock(), copy_now=asked)
            except Exception:
                _log.exception("Upkeep was broken off; it is tried again soon.")
            finally:
                if asked and not stop.is_set():
                    _asked.clear()
    finally:
        connections.close_all()
