"""Which houses, benches or trays are shut after a treatment, until when, and what reopened?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import ceil
from typing import Any

from django.db.models import Case, DateTimeField, Exists, OuterRef, Q, QuerySet, Value, When
from django.utils import timezone

from batches.models import Bench, House, Tray, TrayCheck, Treatment
from batches.models.tray import TrayQuerySet
from batches.services.days import local_day

#: how long a return is kept on Today when nobody looks
RETURN_DAYS = 14
#: no label shuts a place for longer (the model's own bound)
_LONGEST = timedelta(days=60)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutPlace:
    """A place shut until a moment, by a treatment."""

    code: str
    until: datetime
    product: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Return:
    """A place that reopened and was not looked at since."""

    place: str
    reentry_on: date
    shut_days: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShutPlaces:
    """What is shut, by code of house, bench or tray, and what one should go back to."""

    shut: dict[str, ShutPlace]
    returns: tuple[Return, ...]

    def of(self, tray: Tray) -> ShutPlace | None:
        """Return what shuts this tray off; None when it may be looked at. Needs bench and house."""
        if not self.shut:
            return None
        if tray.bench is None:
            return self.of_codes(tray.code)
        return self.of_codes(tray.code, tray.bench.code, tray.bench.house.code)

    def of_codes(self, *codes: str | None) -> ShutPlace | None:
        """Return the longest that any of these codes is shut; None when none of them is."""
        found = [self.shut[code] for code in codes if code is not None and code in self.shut]
        return max(found, key=lambda place: place.until, default=None)

    def leave_open(self, trays: TrayQuerySet) -> TrayQuerySet:
        """Leave the trays that stand behind no shut door."""
        if not self.shut:
            return trays
        there = Q(code__in=self.shut) | Q(bench__code__in=self.shut)
        return trays.exclude(there | Q(bench__house__code__in=self.shut))

    def covers(self, tray: Tray) -> bool:
        """Tell whether the tray is behind a shut door."""
        return self.of(tray) is not None


def shut_places(*, on: date, now: datetime | None = None) -> ShutPlaces:
    """Return what is shut on a day and what reopened in the fortnight before.

    Parameters
    ----------
    now : datetime, optional
        The moment that counts; the end of the day when not given.
    """
    moment = now or datetime.combine(on, time.max, tzinfo=timezone.get_current_timezone())
    treatments = Treatment.objects.filter(
        done_at__lte=moment,
        done_at__gte=moment - _LONGEST - timedelta(days=RETURN_DAYS),
        reentry_hours__gt=0,
    )
    shut: dict[str, ShutPlace] = {}
    reopened: dict[str, Treatment] = {}
    for treatment in treatments:
        until = treatment.reentry_at
        if until is None:
            continue
        for code in treatment.places:
            if until > moment:
                if code not in shut or shut[code].until < until:
                    shut[code] = ShutPlace(code=code, until=until, product=treatment.product)
            elif (on - local_day(until)).days < RETURN_DAYS:
                reopened[code] = treatment
    waiting = {code: one for code, one in reopened.items() if code not in shut}
    unseen = _not_looked_at(waiting, moment) if waiting else frozenset()
    returns = [_return(code, one, on=on) for code, one in waiting.items() if code in unseen]
    return ShutPlaces(shut=shut, returns=tuple(returns))


def _not_looked_at(reopened: Mapping[str, Treatment], moment: datetime) -> frozenset[str]:
    """Return those places where something stands and nobody looked since; three queries."""
    trays, looks = Tray.objects.active().order_by(), TrayCheck.objects.standing().order_by()
    there: tuple[tuple[QuerySet[Any], str], ...] = (
        (trays, "pk"),
        (Bench.objects.order_by(), "bench"),
        (House.objects.order_by(), "bench__house"),
    )
    since = Case(
        *(When(code=code, then=Value(one.reentry_at)) for code, one in reopened.items()),
        output_field=DateTimeField(),
    )
    found: set[str] = set()
    for places, stands in there:
        ours = trays.filter(**{stands: OuterRef("pk")})
        looked = looks.filter(
            seen_at__gte=OuterRef("since"), seen_at__lte=moment, tray__ended_on__isnull=True,
            **{f"tray__{stands}": OuterRef("pk")},
        )  # fmt: skip
        unseen = places.filter(code__in=reopened).annotate(since=since)
        found |= set(unseen.filter(Exists(ours), ~Exists(looked)).values_list("code", flat=True))
    return frozenset(found)


def _return(code: str, treatment: Treatment, *, on: date) -> Return:
    until = treatment.reentry_at or treatment.done_at
    reentry_on = min(local_day(until), on)
    return Return(
        place=code,
        reentry_on=reentry_on,
        shut_days=ceil((treatment.reentry_hours or 0) / 24),
        reason=f"{code} was shut for {treatment.product} until "
        f"{timezone.localtime(until):%a %d %b %Y %H:%M}; nobody has looked there since.",
    )
