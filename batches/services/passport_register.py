"""What does the passport register say: issued, sent to whom, received from whom?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Min, QuerySet

from batches.models import Batch, PassportIssue, PlantMovement, Source
from batches.services.days import local_day
from batches.services.passports import issued_between
from batches.services.records_io.guarding import guarded

HEADER = (
    "entry", "on", "code", "botanical_name", "form", "registration", "origin", "e", "labels",
    "quantity", "unit", "from_or_to", "replaces", "spoiled_on", "by",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """So many of a passport's trade unit that went to somebody."""

    code: str
    on: date
    quantity: int
    unit: str
    to: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A passport with which material came: from whom, and for which origin.

    ``on`` is the first day on which something was started from it; None when nothing was.
    """

    passport: str
    supplier: str
    origin: str
    name: str
    on: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """The three parts of the register, each newest first."""

    issued: tuple[PassportIssue, ...]
    sent: tuple[Sent, ...]
    received: tuple[Received, ...]


def register_of(*, first: date | None, last: date | None) -> Register:
    """Return what was issued in these days, where its pots went, and what was received."""
    issued = issued_between(first=first, last=last)
    return Register(
        issued=tuple(issued),
        sent=tuple(_sent(issued.filter(struck_by__isnull=True).order_by().values("c"))),
        received=tuple(_received(first, last)),
    )


def register_rows(found: Register) -> Iterator[list[str]]:
    """Yield the register as rows of text that a spreadsheet does not run, the header first."""
    yield list(HEADER)
    for row in found.issued:
        spoiled = getattr(row, "struck_by", None)
        yield _row(
            entry="issued", on=local_day(row.issued_at).isoformat(), code=row.c,
            botanical_name=row.a, form=row.form, registration=row.b, origin=row.d, e=row.e,
            labels=str(row.labels), replaces=row.replaces, by=row.by,
            spoiled_on="" if spoiled is None else local_day(spoiled.issued_at).isoformat(),
        )  # fmt: skip
    for sent in found.sent:
        yield _row(
            entry="sent", on=sent.on.isoformat(), code=sent.code, quantity=str(sent.quantity),
            unit=sent.unit, from_or_to=sent.to, by=sent.by,
        )  # fmt: skip
    for one in found.received:
        yield _row(
            entry="received", on="" if one.on is None else one.on.isoformat(), code=one.origin,
            botanical_name=one.name, from_or_to=one.supplier, replaces=one.passport,
        )  # fmt: skip


def _row(**cells: str) -> list[str]:
    return [guarded(cells.get(name, "")) for name in HEADER]


def _sent(codes: QuerySet[Any]) -> Iterator[Sent]:
    """Yield what left under these codes: dispatches of the trays that carry them."""
    rows = PlantMovement.objects.standing().filter(kind="dispatch", tray__code__in=codes)
    for row in rows.select_related("tray").order_by("-on", "tray__code", "id"):
        yield Sent(
            code=row.tray.code, on=row.on, quantity=row.quantity, unit=row.tray.unit,
            to=row.recipient, by=row.by,
        )  # fmt: skip


def _received(first: date | None, last: date | None) -> Sequence[Received]:
    """Return received passports whose material was first used in these days, or not yet."""
    sources = Source.objects.exclude(passport="").select_related("taxon").order_by("code")
    begun: defaultdict[int, list[date]] = defaultdict(list)
    for column in ("source", "spore_lot__source"):
        rows = Batch.objects.filter(**{f"{column}__in": sources}).order_by().values_list(column)
        for pk, day in rows.annotate(first=Min("started_on")):
            begun[pk].append(day)
    found = []
    for source in sources:
        on = min(begun[source.pk], default=None)
        inside = on is None or (
            (first is None or on >= first) and (last is None or on <= last)
        )  # fmt: skip
        if inside:
            found.append(
                Received(
                    passport=source.passport, supplier=source.supplier, origin=source.code,
                    name=source.taxon.name.text, on=on,
                )
            )  # fmt: skip
    return sorted(found, key=lambda one: (one.on or date.max, one.origin), reverse=True)
