"""What do the failing trays share: a lot, a medium, a bench, a person, a week?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any

from batches.core.causes import LookedAtTray, SharedCauses, shared_causes
from batches.core.errors import NotUnderstood
from batches.core.signs import CAUSES, TROUBLES
from batches.models import Place, PlantMovement, Tray, TrayCheck
from batches.services.days import day_bounds, local_day, week_words

#: factors in the order of a reader's interest → their words
FACTORS: dict[str, str] = {
    "media_batch": "medium batch",
    "lot": "lot",
    "source": "origin",
    "house": "house",
    "bench": "bench",
    "container": "container",
    "container_state": "new or washed",
    "person": "who filled it",
    "sowing_week": "week it was started",
}
SEED = 20_260_000


@dataclass(frozen=True, slots=True, kw_only=True)
class CausesAsked:
    """The answer with the question it belongs to."""

    sign: str
    since: date
    found: SharedCauses


def what_trays_share(*, sign: str, since: date, on: date) -> CausesAsked:
    """Return what trays share that first showed a trouble, or a cause of loss, since a day.

    Affected are trays whose first such sign falls on or after ``since``; the others were looked at
    since and never showed it. Trays that showed it before are left out of both. The permutations
    are seeded: the same records give the same answer.

    Raises
    ------
    NotUnderstood
        When the word is neither a trouble nor a cause of loss.
    """
    import numpy as np

    if sign not in {*TROUBLES, *CAUSES}:
        raise NotUnderstood(
            f"“{sign[:40]}” is neither a trouble nor a cause of loss the records know.",
            field="sign",
        )
    first = _first_seen(sign, on)
    looked = _looked_at(since, on)
    affected = {pk: day for pk, day in first.items() if day >= since}
    others = {pk: day for pk, day in looked.items() if pk not in first}
    rows = list(_rows(others | affected, affected=set(affected)))
    return CausesAsked(
        sign=sign, since=since, found=shared_causes(rows, rng=np.random.default_rng(SEED))
    )


def _first_seen(sign: str, on: date) -> dict[int, date]:
    """Return the first day on which each tray showed the sign or lost plants to the cause."""
    first: dict[int, date] = {}
    if sign in TROUBLES:
        checks = (
            TrayCheck.objects.standing()
            .filter(signs__contains=sign, seen_at__lte=day_bounds(on)[1])
            .order_by("seen_at")
            .values_list("tray_id", "seen_at", "signs")
        )
        for tray, seen_at, signs in checks:
            if sign in signs.split():
                first.setdefault(tray, local_day(seen_at))
    losses = (
        PlantMovement.objects.standing()
        .filter(kind="loss", cause=sign, on__lte=on)
        .order_by("on")
        .values_list("tray_id", "on")
    )
    ended = Tray.objects.filter(end_cause=sign, ended_on__lte=on).values_list("pk", "ended_on")
    for tray, day in (*losses, *ended):
        if day is not None:
            first[tray] = min(first.get(tray, day), day)
    return first


def _looked_at(since: date, on: date) -> dict[int, date]:
    """Return the last day on which each tray was looked at since; a glance shows nothing."""
    rows = (
        TrayCheck.objects.standing()
        .filter(glance=False, seen_at__range=(day_bounds(since)[0], day_bounds(on)[1]))
        .order_by("seen_at")
        .values_list("tray_id", "seen_at")
    )
    return {tray: local_day(seen_at) for tray, seen_at in rows}


def _rows(when: dict[int, date], *, affected: set[int]) -> Iterable[LookedAtTray]:
    places = _places(when)
    people = _people(when)
    trays = Tray.objects.filter(pk__in=when).select_related(
        "batch__spore_lot__source", "batch__source", "batch__medium_batch", "medium_batch",
        "bench__house",
    )  # fmt: skip
    for tray in trays:
        bench, house = places.get(tray.pk, _here(tray))
        yield LookedAtTray(
            tray=tray.code,
            batch=tray.batch.code,
            affected=tray.pk in affected,
            values=_values(tray, bench, house, people.get(tray.pk, "")),
        )


def _here(tray: Tray) -> tuple[str, str]:
    return ("", "") if tray.bench is None else (tray.bench.code, tray.bench.house.code)


def _values(tray: Tray, bench: str, house: str, person: str) -> dict[str, str]:
    lot = tray.batch.spore_lot
    source = lot.source if lot is not None else tray.batch.source
    medium = tray.medium
    return {
        "media_batch": "" if medium is None else medium.code,
        "lot": "" if lot is None else lot.code,
        "source": "" if source is None else source.code,
        "house": house,
        "bench": bench,
        "container": tray.container,
        "container_state": tray.container_state,
        "person": person,
        "sowing_week": week_words(tray.started_on),
    }


def _places(when: dict[int, date]) -> dict[int, tuple[str, str]]:
    """Return bench and house of each tray on its day."""
    found: dict[int, tuple[str, str]] = {}
    rows = (
        Place.objects.standing()
        .filter(tray__in=list(when), bench__isnull=False)
        .order_by("on", "recorded_at", "id")
        .values_list("tray_id", "on", "bench__code", "bench__house__code")
    )
    for tray, day, bench, house in rows:
        if day <= when[tray] or tray not in found:
            found[tray] = (bench, house)
    return found


def _people(when: dict[int, date]) -> dict[int, str]:
    """Return who filled each tray: whoever wrote its first row of the stock book or of places."""
    found: dict[int, str] = {}
    arrivals: Any = (
        PlantMovement.objects.standing()
        .filter(to_tray__in=list(when))
        .exclude(by="")
        .order_by("on")
        .values_list("to_tray_id", "by")
    )
    places: Any = (
        Place.objects.standing()
        .filter(tray__in=list(when))
        .exclude(by="")
        .order_by("on", "recorded_at", "id")
        .values_list("tray_id", "by")
    )
    for tray, by in (*arrivals, *places):
        found.setdefault(tray, by)
    return found
