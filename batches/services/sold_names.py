"""Under which name is a batch sold, and is it true to it?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from batches.core.errors import NotPossibleNow, OutOfTime
from batches.core.stages import Route
from batches.models import Batch
from batches.services.days import day_words
from batches.services.tray_life import require_day


@dataclass(frozen=True, slots=True, kw_only=True)
class NameKept:
    """A batch under the name it is sold by from now on."""

    batch: Batch
    message: str


def may_be_confirmed(batch: Batch) -> bool:
    """Tell whether somebody may still confirm it true: a cultivar from spores, not confirmed."""
    return (
        batch.route == Route.SPORE
        and bool(batch.taxon.cultivar)
        and batch.confirmed_true_on is None
    )


def confirm_true(*, batch: Batch, on: date, now: datetime) -> NameKept:
    """Note that a cultivar raised from spores came true; from now on it carries its name.

    Raises
    ------
    NotPossibleNow
        When there is nothing to confirm, or it was confirmed before.
    OutOfTime
        When the day lies in the future or before the batch was started.
    """
    require_day(on, now=now)
    if batch.confirmed_true_on is not None:
        raise NotPossibleNow(
            f"Batch {batch.code} was confirmed true on {day_words(batch.confirmed_true_on)}. "
            "Nothing was changed."
        )
    if not may_be_confirmed(batch):
        raise NotPossibleNow(
            f"Batch {batch.code} is no cultivar raised from spores: it carries its name already."
        )
    if on < batch.started_on:
        raise OutOfTime(
            f"Batch {batch.code} was started on {day_words(batch.started_on)}; it cannot have come "
            "true before. Nothing was changed.",
            field="on",
        )
    rows = Batch.objects.filter(pk=batch.pk, confirmed_true_on__isnull=True)
    if not rows.update(confirmed_true_on=on):
        raise NotPossibleNow(f"Batch {batch.code} was confirmed true just now by somebody else.")
    fresh = Batch.objects.for_list().get(pk=batch.pk)
    return NameKept(
        batch=fresh,
        message=f"Batch {fresh.code} came true. Labels printed from now on say "
        f"“{fresh.taxon.name.text}”; those on the trays still say the old name.",
    )


def name_batch(*, batch: Batch, sold_as: str, notes: str) -> NameKept:
    """Store what labels print for a batch (empty for its fern's name), and its notes."""
    kept = " ".join(sold_as.split())
    Batch.objects.filter(pk=batch.pk).update(sold_as=kept, notes=notes.strip())
    fresh = Batch.objects.for_list().get(pk=batch.pk)
    words = f"Batch {fresh.code} is noted anew."
    if kept != batch.sold_as:
        words += " Labels printed from now on carry the new name."
    return NameKept(batch=fresh, message=words)
