"""May the person behind a request strike out a row, and what becomes of one who may not?"""

from __future__ import annotations

from django.http import Http404, HttpRequest

from batches.models import Place, PlantMovement, StageTransition, TrayCheck
from batches.services.strike_rights import may_strike
from batches.views import clock
from batches.views.access import person_of
from batches.views.noting import note


def require_own(
    request: HttpRequest, row: TrayCheck | StageTransition | PlantMovement | Place
) -> None:
    """Let a manager go on with any row, others with their own; answer 404 else, and note it.

    Raises
    ------
    Http404
        The row is somebody else's, or older than a day.
    """
    person, now = person_of(request), clock.now()
    if person is None or not may_strike(
        person=person, by=row.by, recorded_at=row.recorded_at, now=now
    ):
        note(request, "strike-out refused", about=row.tray.code, before=str(row.pk))
        raise Http404
