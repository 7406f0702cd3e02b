"""Which trail begins on a bench in certain days, or at something that was sent?"""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from uuid import UUID

from batches.core.errors import NotUnderstood, UnknownCode
from batches.models import Bench, House, Place, PlantMovement, Tray
from batches.services.codes import find_code
from batches.services.days import day_words
from batches.services.trace import Node, Trail, trail_from


def trail_of_bench(*, code: str, first: date, last: date) -> Trail:
    """Return the trail of every tray that stood on a bench, or in a house, in these days.

    Both days are included, and so is the day on which a tray was moved away.

    Raises
    ------
    UnknownCode
        When the code is no bench's and no house's.
    NotUnderstood
        When the last day lies before the first.
    """
    if last < first:
        raise NotUnderstood("The last day lies before the first; look at the days again.")
    found = find_code(code)
    if isinstance(found.obj, House):
        benches = Bench.objects.filter(house=found.obj)
    elif isinstance(found.obj, Bench):
        benches = Bench.objects.filter(pk=found.obj.pk)
    else:
        raise UnknownCode(f"“{found.code}” is neither a bench nor a house.", field="bench")
    trays = stood_on(benches=frozenset(benches.values_list("pk", flat=True)), days=(first, last))
    words = f"{found.kind} {found.code}, {day_words(first)} to {day_words(last)}"
    members = [Node(kind="tray", code=tray) for tray in trays]
    return trail_from(start=Node(kind="stood", code=words), members=members)


def stood_on(*, benches: frozenset[int], days: tuple[date, date]) -> list[str]:
    """Return the codes of the trays that stood on one of the benches in these days, by code.

    A tray without a place on record stood where it stands, from its start on; three queries.
    """
    first, last = days
    candidates = Tray.objects.filter(started_on__lte=last).exclude(ended_on__lt=first)
    ends = dict(candidates.values_list("pk", "ended_on"))
    places: defaultdict[int, list[tuple[date, int | None]]] = defaultdict(list)
    touched = Place.objects.filter(bench__in=benches).values("tray")
    rows = Place.objects.standing().filter(tray__in=touched).order_by("on", "recorded_at", "id")
    for tray, on, bench in rows.values_list("tray", "on", "bench"):
        places[tray].append((on, bench))
    found = set()
    for tray, stays in places.items():
        until = [on for on, _ in stays[1:]] + [ends.get(tray) or date.max]
        if any(
            bench in benches and since <= last and left >= first
            for (since, bench), left in zip(stays, until, strict=True)
        ):
            found.add(tray)
    never_moved = candidates.filter(bench__in=benches, places__isnull=True)
    found |= set(never_moved.values_list("pk", flat=True))
    stood = found & set(ends)
    return sorted(code for pk, code in candidates.values_list("pk", "code") if pk in stood)


def trail_of_dispatch(*, row_id: UUID) -> Trail:
    """Return the trail of one dispatch; `UnknownCode` when there is none or it was struck out."""
    row = PlantMovement.objects.standing().filter(pk=row_id, kind="dispatch").first()
    if row is None:
        raise UnknownCode("No such dispatch is on record, or it was struck out.")
    whom = row.recipient or "somebody not noted"
    start = Node(kind="sent", code=f"{row.quantity} sent to {whom} on {day_words(row.on)}")
    return trail_from(start=start, members=[Node(kind="dispatch", code=str(row.pk))])


def trail_of_sent(
    *, recipient: str = "", order: str = "", first: date | None = None, last: date | None = None
) -> Trail:
    """Return the trail of everything sent to somebody (whatever the case), or for an order.

    Raises
    ------
    NotUnderstood
        When neither is given.
    UnknownCode
        When nothing was sent to them in these days.
    """
    name = recipient.strip()
    sent = PlantMovement.objects.standing().filter(kind="dispatch")
    if order:
        sent, words = sent.filter(order__code=order), f"order {order}"
    elif name:
        sent, words = sent.filter(recipient__iexact=name), name
    else:
        raise NotUnderstood("To whom was it sent, or for which order?", field="recipient")
    if first is not None:
        sent, words = sent.filter(on__gte=first), f"{words}, from {day_words(first)}"
    if last is not None:
        sent, words = sent.filter(on__lte=last), f"{words}, to {day_words(last)}"
    rows = list(sent.values_list("pk", flat=True))
    if not rows:
        raise UnknownCode(f"Nothing on record was sent: {words}. Look at the name and the days.")
    members = [Node(kind="dispatch", code=str(row)) for row in rows]
    return trail_from(start=Node(kind="sent", code=f"sent: {words}"), members=members)
