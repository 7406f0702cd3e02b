"""What does a person or a tablet read when the disk is full?

Nothing of what was sent is stored then: a transaction that finds no room is rolled back whole. The
answer says so, in words, with 503: a tablet keeps its items and sends them again.
"""

from __future__ import annotations

import errno
import logging
from http import HTTPStatus

from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string

NO_ROOM = {errno.ENOSPC, errno.EDQUOT}
RETRY_AFTER_S = 60
_WORDS = "The computer's disk is full. Nothing of this was stored; what was stored before is kept."
_log = logging.getLogger("django.request")


def is_no_room(error: BaseException) -> bool:
    """Say whether an error means that there is no room on the disk.

    SQLite says “database or disk is full” (SQLITE_FULL), or “disk I/O error” where the write-ahead
    log cannot grow; PostgreSQL “No space left on device” (53100).
    """
    told = str(error).lower()
    if isinstance(error, DatabaseError):
        words = ("disk is full", "disk i/o error", "no space left", "could not extend")
        return any(one in told for one in words)
    return isinstance(error, OSError) and error.errno in NO_ROOM


def no_room(request: HttpRequest, error: BaseException) -> HttpResponse:
    """Answer 503 in words, to a tablet as JSON."""
    _log.error("No room on the disk at %s %s: %s", request.method, request.path, error)
    if request.path.startswith("/sync/"):
        answer: HttpResponse = JsonResponse({"error": _WORDS})
    else:
        answer = HttpResponse(render_to_string("batches/errors/no_room.html"))
    answer.status_code = HTTPStatus.SERVICE_UNAVAILABLE
    answer["Retry-After"] = str(RETRY_AFTER_S)
    return answer
