"""How long does a mock alarm take, from a pot that was sent to every tray of its kin?

An alarm that was never tried fails on the day. The clock runs on the server, from the moment the
drill is begun until somebody says that the last tray was found.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, datetime, timedelta
from uuid import UUID

from batches.core.errors import NotPossibleNow
from batches.models import AlarmDrill, PlantMovement
from batches.services.trail_sums import TrailSums

#: something sent longer ago than this is not drawn: few would still have it
_DRAWN_WITHIN = timedelta(days=730)


def dispatches_to_draw(*, today: date) -> list[UUID]:
    """Return the dispatches of the last two years, one of which a drill may begin from."""
    rows = PlantMovement.objects.standing().filter(kind="dispatch", on__gte=today - _DRAWN_WITHIN)
    return list(rows.order_by("on", "id").values_list("pk", flat=True))


def begin_drill(
    *, traced_from: str, query: str, sums: TrailSums, traced_ms: int, by: str, now: datetime
) -> AlarmDrill:
    """Start the clock; the numbers to be found are kept as they were at this moment."""
    return AlarmDrill.objects.create(
        begun_at=now,
        begun_by=by.strip()[:80],
        traced_from=traced_from[:160],
        query=query[:300],
        standing=sums.standing,
        recipients=len(sums.recipients),
        sent=sum(number for number, _ in sums.sent),
        traced_ms=traced_ms,
        adds_up=not sums.off,
    )


def finish_drill(
    *,
    drill: AlarmDrill,
    found: Collection[str],
    standing: Collection[str],
    note: str,
    by: str,
    now: datetime,
) -> AlarmDrill:
    """Stop the clock; ``standing`` are the trays that were to be found, ``found`` those ticked.

    Raises
    ------
    NotPossibleNow
        When the clock was stopped before.
    """
    missing = sorted(set(standing) - set(found))
    stopped = AlarmDrill.objects.running().filter(pk=drill.pk)
    if not stopped.update(
        finished_at=now,
        finished_by=by.strip()[:80],
        found=len(set(standing) & set(found)),
        missing=" ".join(missing),
        note=note.strip()[:300],
    ):
        raise NotPossibleNow("The clock of this drill was stopped already; its result stays.")
    drill.refresh_from_db()
    return drill


def time_taken(drill: AlarmDrill) -> str:
    """Return how long a drill took: “23 min 10 s”; empty while its clock runs."""
    if drill.finished_at is None:
        return ""
    seconds = int((drill.finished_at - drill.begun_at).total_seconds())
    hours, rest = divmod(seconds, 3600)
    minutes = f"{rest // 60} min {rest % 60} s"
    return f"{hours} h {minutes}" if hours else minutes
