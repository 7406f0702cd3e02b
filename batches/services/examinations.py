"""What did a plant-health examination look for, find and lead to?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction
from django.db.models import QuerySet

from batches.core.errors import AlreadyTaken, NotUnderstood
from batches.models import Examination
from batches.services.named_places import places_named
from batches.services.records_io.guarding import guarded
from batches.services.tray_life import require_day

#: columns of the record as a file
COLUMNS = ("on", "examiner", "place_or_trays", "looked_for", "finding", "action")


@dataclass(frozen=True, slots=True, kw_only=True)
class ExaminationWords:
    """An examination as an inspector asks for it."""

    on: date
    examiner: str
    place_or_trays: str
    looked_for: str = ""
    finding: str = ""
    action: str = ""


def record_examination(
    *, words: ExaminationWords, now: datetime, record_id: UUID | None = None
) -> Examination:
    """Store an examination; sent again with the same id, nothing is stored twice.

    Raises
    ------
    NotUnderstood, UnknownCode
        When the examiner or a place is missing or not known, or it says neither what was looked
        for nor what was found.
    OutOfTime
        When the day lies in the future.
    AlreadyTaken
        When the id stands for another examination.
    """
    require_day(words.on, now=now)
    examiner = " ".join(words.examiner.split())
    if not examiner:
        raise NotUnderstood("Say who looked.", field="examiner")
    if not words.looked_for.strip() and not words.finding.strip():
        raise NotUnderstood(
            "Say what was looked for, or what was found; “nothing found” is a finding.",
            field="finding",
        )
    columns = {
        "on": words.on,
        "examiner": examiner,
        "place_or_trays": places_named(words.place_or_trays),
        "looked_for": " ".join(words.looked_for.split()),
        "finding": words.finding.strip(),
        "action": words.action.strip(),
    }
    with transaction.atomic():
        row, created = Examination.objects.get_or_create(
            pk=record_id or uuid4(), defaults=columns | {"recorded_at": now}
        )
    if not created and (row.on, row.examiner) != (words.on, examiner):
        raise AlreadyTaken(
            f"The id {record_id} stands for another examination already. What was stored stays; "
            "open the form anew and enter it again."
        )
    return row


def record_rows(examinations: QuerySet[Examination]) -> Iterator[list[str]]:
    """Yield the record as rows of text that a spreadsheet does not run, the header first."""
    yield list(COLUMNS)
    for row in examinations:
        yield [guarded(str(getattr(row, name))) for name in COLUMNS]
