"""What was put on which house, bench or trays, and until when is nobody to go in?

Frondbook keeps the register; it recommends no product and no dose. Label and licence decide.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood
from batches.models import Treatment
from batches.services.days import day_bounds, day_words
from batches.services.named_places import places_named
from batches.services.records_io.guarding import guarded
from batches.services.tray_life import require_moment

#: no label shuts a place for longer
MOST_HOURS = 24 * 60
#: columns of the register as a file
REGISTER = (
    "done_at", "product", "rate", "place_or_trays", "operator", "reentry_hours", "reentry_at",
    "recorded_at", "said_before",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatmentWords:
    """A treatment as the operator wrote it down from the label."""

    done_at: datetime
    product: str
    place_or_trays: str
    operator: str
    rate: str = ""
    reentry_hours: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TreatmentStored:
    """A stored treatment; ``created`` is False when the same one was stored before."""

    treatment: Treatment
    created: bool
    message: str


def record_treatment(
    *, words: TreatmentWords, now: datetime, record_id: UUID | None = None
) -> TreatmentStored:
    """Store a treatment; sent again with the same id, nothing is stored twice.

    Raises
    ------
    NotUnderstood, UnknownCode
        When the product, the operator or a place is missing or not known, or the hours are out of
        range.
    OutOfTime
        When it lies in the future.
    AlreadyTaken
        When the id stands for another treatment.
    """
    columns = _columns(words, now=now)
    with transaction.atomic():
        treatment, created = Treatment.objects.get_or_create(
            pk=record_id or uuid4(), defaults=columns | {"recorded_at": now}
        )
    if not created and treatment.product != columns["product"]:
        raise AlreadyTaken(
            f"The id {record_id} stands for another treatment already. What was stored stays; open "
            "the form anew and enter it again."
        )
    return TreatmentStored(treatment=treatment, created=created, message=_told(treatment, now=now))


def mend_treatment(
    *, treatment: Treatment, words: TreatmentWords, by: str, now: datetime
) -> TreatmentStored:
    """Put a wrong entry of the register right; what it said before stays readable beside it.

    Raises
    ------
    NotPossibleNow
        When nothing would change, or somebody else mended it meanwhile.
    NotUnderstood, UnknownCode, OutOfTime
        As `record_treatment`.
    """
    columns = _columns(words, now=now)
    if all(getattr(treatment, name) == value for name, value in columns.items()):
        raise NotPossibleNow("Nothing differs from what is stored.")
    day = timezone.localtime(now)
    line = f"{day_words(day.date())}, mended by {by.strip()[:80]}; before: {in_words(treatment)}."
    said = f"{treatment.said_before}\n{line}".strip()
    rows = Treatment.objects.filter(pk=treatment.pk, said_before=treatment.said_before)
    if not rows.update(said_before=said, **columns):
        raise NotPossibleNow(
            "Somebody else mended this entry meanwhile. Nothing was changed; look at it again."
        )
    treatment.refresh_from_db()
    return TreatmentStored(treatment=treatment, created=False, message=_told(treatment, now=now))


def treatments_between(*, first: date | None, last: date | None) -> QuerySet[Treatment]:
    """Return the register from a day to a day (both included), newest first; None is no bound."""
    found = Treatment.objects.newest_first()
    if first is not None:
        found = found.filter(done_at__gte=day_bounds(first)[0])
    if last is not None:
        found = found.filter(done_at__lte=day_bounds(last)[1])
    return found


def register_rows(treatments: QuerySet[Treatment]) -> Iterator[list[str]]:
    """Yield the register as rows of text that a spreadsheet does not run, the header first."""
    yield list(REGISTER)
    for row in treatments:
        until = row.reentry_at
        cells = (
            timezone.localtime(row.done_at).isoformat(),
            row.product,
            row.rate,
            row.place_or_trays,
            row.operator,
            "" if row.reentry_hours is None else f"{row.reentry_hours:g}",
            "" if until is None else timezone.localtime(until).isoformat(),
            timezone.localtime(row.recorded_at).isoformat(),
            row.said_before,
        )
        yield [guarded(cell) for cell in cells]


def in_words(treatment: Treatment) -> str:
    """Return an entry of the register in one line."""
    moment = timezone.localtime(treatment.done_at)
    words = f"{day_words(moment.date())} {moment:%H:%M}, {treatment.product}"
    if treatment.rate:
        words += f", {treatment.rate}"
    words += f", on {treatment.place_or_trays}, by {treatment.operator}"
    if treatment.reentry_hours:
        words += f", re-entry after {treatment.reentry_hours:g} h"
    return words


def _columns(words: TreatmentWords, *, now: datetime) -> dict[str, object]:
    require_moment(words.done_at, now=now, field="done_at")
    product = " ".join(words.product.split())
    operator = " ".join(words.operator.split())
    if not product:
        raise NotUnderstood("Write the product down as it stands on its label.", field="product")
    if not operator:
        raise NotUnderstood("Say who did it.", field="operator")
    hours = words.reentry_hours
    if hours is not None and not 0 <= hours <= MOST_HOURS:
        raise NotUnderstood(
            f"Hours until re-entry are 0 to {MOST_HOURS:,}. Nothing was stored; read the label "
            "again.",
            field="reentry_hours",
        )
    return {
        "done_at": words.done_at,
        "product": product,
        "rate": " ".join(words.rate.split()),
        "place_or_trays": places_named(words.place_or_trays),
        "operator": operator,
        "reentry_hours": hours,
    }


def _told(treatment: Treatment, *, now: datetime) -> str:
    until = treatment.reentry_at
    words = f"{treatment.product} on {treatment.place_or_trays} is in the register."
    if until is not None and until > now:
        local = timezone.localtime(until)
        words += (
            f" Nobody goes in before {day_words(local.date())}, {local:%H:%M}; the round leaves it "
            "out until then."
        )
    return words
