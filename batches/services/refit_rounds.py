"""When are stage times reckoned again while the server runs, and by which of several processes?

A thread beside the pages looks every few seconds which ferns' trays moved on, and reckons those;
once a day it reckons all. Never inside a request: whoever logs a look waits for nothing.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import TYPE_CHECKING

from django.db import close_old_connections, connection, connections

from batches.models import StageFit
from batches.services.days import local_day

if TYPE_CHECKING:
    from batches.services.refits import Refit

EVERY_S = 20.0
#: how long the server waits at its end for a round that is being reckoned
PATIENCE_S = 10.0
#: the number under which one process at a time reckons on PostgreSQL (any number of ours)
_TURN = 7_026_101

_log = logging.getLogger(__name__)


def reckon_round(*, now: datetime) -> Refit | None:
    """Reckon what is to be reckoned now; None where another process is at it."""
    from batches.services.refits import refit, refit_due  # the server starts without numpy

    with _one_at_a_time() as mine:
        if not mine:
            return None
        today = local_day(now)
        if StageFit.objects.filter(fitted_on__lt=today).exists():
            return refit(on=today, now=now)
        return refit_due(on=today, now=now)


@contextmanager
def rounds(*, clock: Callable[[], datetime], every: float = EVERY_S) -> Iterator[None]:
    """Reckon in the background until the block ends; a round that is running ends first."""
    stop = threading.Event()
    thread = threading.Thread(
        target=_until_told, args=(stop, clock, every), name="stage-times", daemon=True
    )
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join(PATIENCE_S)


def _until_told(stop: threading.Event, clock: Callable[[], datetime], every: float) -> None:
    try:
        while not stop.wait(every):
            try:
                close_old_connections()
                reckon_round(now=clock())
            except Exception:
                # A disk that is full, a database that went away: due dates stay as they were.
                _log.exception("Stage times could not be reckoned now; tried again soon.")
    finally:
        connections.close_all()


@contextmanager
def _one_at_a_time() -> Iterator[bool]:
    """Tell whether this process may reckon.

    On SQLite one server holds the data folder. PostgreSQL may serve several: the first takes an
    advisory lock, which goes with its connection, and the others leave it the round.
    """
    if connection.vendor != "postgresql":
        yield True
        return
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(%s)", [_TURN])
        mine = bool(cursor.fetchone()[0])
    try:
        yield mine
    finally:
        if mine:
            with connection.cursor() as cursor:
                cursor.execute("SELECT pg_advisory_unlock(%s)", [_TURN])
