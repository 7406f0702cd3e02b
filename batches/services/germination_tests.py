"""How many spores of a lot come up?"""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import GerminationTest, SporeLot
from batches.services.days import day_words
from batches.services.tray_life import require_day


def sow_test(
    *, lot: SporeLot, sown_on: date, now: datetime, record_id: UUID | None = None
) -> GerminationTest:
    """Note that a sample of the lot was sown to be counted later."""
    require_day(sown_on, now=now, field="sown_on")
    if sown_on < lot.collected_on:
        raise OutOfTime(
            f"Lot {lot.code} was collected on {day_words(lot.collected_on)}; a sample cannot have "
            "been sown before. Nothing was stored.",
            field="sown_on",
        )
    known = {"pk": record_id} if record_id is not None else {}
    return GerminationTest.objects.create(lot=lot, sown_on=sown_on, recorded_at=now, **known)


def count_test(
    *, test: GerminationTest, counted_on: date, counted: int, germinated: int, now: datetime
) -> GerminationTest:
    """Note what a sample gave.

    Raises
    ------
    NotUnderstood
        When nothing was counted, or more came up than were counted.
    NotPossibleNow
        When it was counted before.
    """
    require_day(counted_on, now=now, field="counted_on")
    if counted_on < test.sown_on:
        raise OutOfTime(
            f"The sample was sown on {day_words(test.sown_on)}; it cannot have been counted "
            "before. Nothing was stored.",
            field="counted_on",
        )
    if counted < 1:
        raise NotUnderstood(
            "Count at least one spore; 300 and more tell something.", field="counted"
        )
    if not 0 <= germinated <= counted:
        raise NotUnderstood(
            f"{germinated} of {counted} cannot have come up. Nothing was stored; count again.",
            field="germinated",
        )
    with transaction.atomic():
        rows = GerminationTest.objects.filter(pk=test.pk, counted_on__isnull=True)
        if not rows.update(counted_on=counted_on, counted=counted, germinated=germinated):
            raise NotPossibleNow("This sample was counted already. Nothing was changed.")
    test.refresh_from_db()
    return test
