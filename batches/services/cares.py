"""Which cares does the nursery want to be reminded of, which are due, and which were given?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction

from batches.core.cares import Care, CaredFor, CareDue, cares_due, most_pressing
from batches.core.errors import NotUnderstood
from batches.core.lateness import TrayFacts
from batches.core.stages import Route
from batches.models import CareDone, CareReminder, Tray
from batches.services.tray_life import require_day, require_since, require_standing

#: of so many trays the cares given are asked for by name
_FEW = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class CareLine:
    """A care that is due with a tray."""

    tray: Tray
    facts: TrayFacts
    due: CareDue


def wanted_cares() -> dict[Route, frozenset[Care]]:
    """Return the reminders that are turned on, by route; one query, empty while all are off."""
    found: defaultdict[Route, set[Care]] = defaultdict(set)
    for route, care in CareReminder.objects.filter(enabled=True).values_list("route", "care"):
        found[Route(route)].add(Care(care))
    return {route: frozenset(cares) for route, cares in found.items()}


def set_reminder(*, route: str, care: str, enabled: bool) -> None:
    """Turn a reminder on or off for a route."""
    if route not in set(Route) or care not in set(Care):
        raise NotUnderstood("There is no such reminder. Nothing was changed.")
    CareReminder.objects.update_or_create(route=route, care=care, defaults={"enabled": enabled})


def care_lines(
    *,
    trays: Iterable[tuple[Tray, TrayFacts]],
    on: date,
    wanted: dict[Route, frozenset[Care]],
) -> Iterable[CareLine]:
    """Yield the cares due with these trays on a day; one query. Control trays need none."""
    cared = [(tray, facts) for tray, facts in trays if not facts.control]
    few = [tray.pk for tray, _ in cared] if len(cared) <= _FEW else None
    given = given_cares(on=on, tray_ids=few)
    for tray, facts in cared:
        asked = CaredFor(
            route=tray.route,
            stage=facts.stage,
            stage_since=facts.origin,
            cover=tray.cover,
            rest=facts.rest,
            done=given.get(tray.pk, {}),
        )
        found = cares_due(asked, on=on, wanted=wanted.get(tray.route, frozenset()))
        worst = most_pressing(found, on=on)
        if worst is not None:
            yield CareLine(tray=tray, facts=facts, due=worst)


def given_cares(
    *, on: date, tray_ids: Sequence[int] | None = None
) -> dict[int, dict[Care, tuple[date, ...]]]:
    """Return the days on which cares were given by the end of a day, by tray; one query.

    Parameters
    ----------
    tray_ids : sequence of int, optional
        Only these trays; every standing one when not given.
    """
    rows = CareDone.objects.standing().filter(on__lte=on, tray__ended_on__isnull=True)
    if tray_ids is not None:
        rows = rows.filter(tray__in=tray_ids)
    found: defaultdict[int, defaultdict[Care, list[date]]] = defaultdict(lambda: defaultdict(list))
    for tray_id, care, day in rows.values_list("tray_id", "care", "on"):
        found[tray_id][Care(care)].append(day)
    return {
        pk: {care: tuple(sorted(days)) for care, days in cares.items()}
        for pk, cares in found.items()
    }


def give_care(
    *, tray: Tray, care: str, on: date, by: str, now: datetime, record_id: UUID | None = None
) -> CareDone:
    """Note that a care was given to a tray on a day; the same id twice is once."""
    if care not in set(Care):
        raise NotUnderstood("There is no such care. Nothing was stored.", field="care")
    require_day(on, now=now)
    with transaction.atomic():
        anchor = record_id or uuid4()
        known: CareDone | None = CareDone.objects.filter(pk=anchor).first()
        if known is not None:
            return known
        require_standing(tray)
        require_since(tray, on)
        return CareDone.objects.create(
            id=anchor,
            tray=tray,
            care=care,
            on=on,
            by=by.strip()[:80],
            recorded_at=now,
        )
