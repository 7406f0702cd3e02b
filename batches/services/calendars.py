"""At which private address may a person's calendar fetch the week, and what stands in it?

Whoever has the address can read: so its secret is long, only its hash is kept, and it can be taken
back at any time. Customers are not named in it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta

from django.db import transaction

from batches.core.calendar_text import DayEvent, calendar_text
from batches.core.stages import Stage
from batches.models import CalendarAddress, Person, Tray
from batches.services.language import said
from batches.services.own_settings import own_setting
from batches.services.secrets_of_links import hash_of, new_secret

#: days ahead for looks, and for pots expected to become ready
LOOK_DAYS, READY_DAYS = 7, 56
REFRESH_HOURS = 6
_MOST_CODES = 40
#: the time of the last reading is kept to the hour, so that reading writes seldom
_NOTED_EVERY = timedelta(hours=1)


def make_address(*, person: Person, now: datetime) -> str:
    """Give a person a new address and return its secret, to be shown once; older ones stop."""
    secret = new_secret()
    with transaction.atomic():
        CalendarAddress.objects.filter(person=person, revoked_at__isnull=True).update(
            revoked_at=now
        )
        CalendarAddress.objects.create(person=person, token_hash=hash_of(secret), made_at=now)
    return secret


def revoke_address(*, person: Person, now: datetime) -> bool:
    """Stop a person's address; returns whether there was one."""
    open_ones = CalendarAddress.objects.filter(person=person, revoked_at__isnull=True)
    return open_ones.update(revoked_at=now) > 0


def address_of_person(*, person: Person) -> CalendarAddress | None:
    """Return a person's address as it is kept; None when there is none."""
    return CalendarAddress.objects.open().filter(person=person).first()


def calendar_behind(*, secret: str, now: datetime) -> CalendarAddress | None:
    """Return the address that a secret opens and note the reading; None for a wrong one."""
    found = CalendarAddress.objects.open().filter(token_hash=hash_of(secret)).first()
    if found is None:
        return None
    if found.last_read_at is None or now - found.last_read_at >= _NOTED_EVERY:
        CalendarAddress.objects.filter(pk=found.pk).update(last_read_at=now)
    return found


def feed_of(
    *, address: CalendarAddress, today: date, now: datetime, url: str, language: str
) -> str:
    """Return the calendar: the looks of seven days, and what becomes ready in eight weeks.

    A look that is overdue stands on today; three queries.
    """
    name = own_setting("nursery_name") or "Frondbook"
    key = address.token_hash[:16]
    events = [*_looks(today, key, url, language), *_ready(today, key, url, language)]
    return calendar_text(
        events,
        name=f"{name}: {said('looks and ready', language=language)}",
        now=now,
        refresh_hours=REFRESH_HOURS,
    )


def _looks(today: date, key: str, url: str, language: str) -> Iterator[DayEvent]:
    last = today + timedelta(days=LOOK_DAYS - 1)
    by_day: defaultdict[date, list[Tray]] = defaultdict(list)
    due = Tray.objects.active().filter(look_due_on__lte=last)
    for tray in due.select_related("bench").in_walking_order():
        by_day[max(tray.look_due_on or today, today)].append(tray)
    for day, trays in sorted(by_day.items()):
        overdue = sum((tray.look_due_on or day) < day for tray in trays)
        words = f"{len(trays)} look{'s' if len(trays) != 1 else ''} due"
        yield DayEvent(
            uid=f"looks-{day:%Y%m%d}-{key}@frondbook.invalid",
            on=day,
            summary=said(f"{words}, {overdue} overdue" if overdue else words, language=language),
            description="\n".join(_by_bench(trays, language)),
            url=url,
        )


def _by_bench(trays: list[Tray], language: str) -> Iterator[str]:
    benches: dict[str, list[str]] = {}
    for tray in trays:
        place = (
            tray.bench.code
            if tray.bench is not None
            else said("without a place", language=language)
        )
        benches.setdefault(place, []).append(tray.code)
    for place, codes in benches.items():
        left = len(codes) - _MOST_CODES
        more = " " + said(f"and {left} more", language=language) if left > 0 else ""
        yield f"{place}: {', '.join(codes[:_MOST_CODES])}{more}"


def _ready(today: date, key: str, url: str, language: str) -> Iterator[DayEvent]:
    last = today + timedelta(days=READY_DAYS)
    rows = Tray.objects.active().filter(
        stage=str(Stage.POTTED_UP), control=False, expected_on__range=(today, last)
    )
    groups: defaultdict[tuple[date, str, str], list[Tray]] = defaultdict(list)
    for tray in rows.select_related("batch__taxon").order_by("expected_on", "code"):
        if tray.expected_on is not None:
            groups[tray.expected_on, tray.batch.taxon.code, tray.pot_size].append(tray)
    for (day, fern, size), trays in groups.items():
        pots = sum(tray.alive or 0 for tray in trays)
        name = trays[0].batch.taxon.name.text
        yield DayEvent(
            uid=f"ready-{day:%Y%m%d}-{fern}-{size.replace(' ', '')}-{key}@frondbook.invalid",
            on=day,
            summary=said(
                f"Ready expected: {name}, {pots} pots{f' of {size}' if size else ''}",
                language=language,
            ),
            description=said("An expectation, no promise:", language=language)
            + " "
            + ", ".join(tray.code for tray in trays[:_MOST_CODES]),
            url=url,
        )
