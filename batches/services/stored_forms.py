"""Was this form stored before, and what came of it?"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from batches.core.errors import AlreadyTaken, ChangedMeanwhile
from batches.models import StoredForm


def made_before(*, record_id: UUID | None, kind: str) -> str:
    """Return the code of what a form made when it was sent first; empty when it is new.

    Raises
    ------
    AlreadyTaken
        When the id stands for a thing of another kind.
    """
    if record_id is None:
        return ""
    row = StoredForm.objects.filter(pk=record_id).first()
    if row is None:
        return ""
    if row.kind != kind:
        raise AlreadyTaken(
            f"The id {record_id} stands for {row.code} already. What was stored stays; open the "
            "form anew and enter it again.",
            field="record_id",
        )
    return row.code


def note_made(*, record_id: UUID | None, kind: str, code: str, now: datetime) -> None:
    """Keep what a form made, inside the deed's own ``atomic()``; nothing for a form without id.

    Raises
    ------
    ChangedMeanwhile
        When the same form is being stored at this very moment.
    """
    if record_id is None:
        return
    try:
        with transaction.atomic():
            StoredForm.objects.create(pk=record_id, kind=kind, code=code, recorded_at=now)
    except IntegrityError:
        raise ChangedMeanwhile(
            "The same form was sent twice at once, and the other one is stored. Nothing is stored "
            "twice; look at the list."
        ) from None
