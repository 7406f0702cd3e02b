"""How many spores of a lot come up?"""

from __future__ import annotations

from datetime import date, datetime
from uuid import UUID, uuid4

from django.db import transaction

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import GerminationTest, SporeLot
from batches.services.days import day_words
from batches.services.tray_life import require_day


def sow_test(
    *, lot: SporeLot, sown_on: date, now: datetime, record_id: UUID | None = None
) -> GerminationTest:
    """Note that a sample of the lot was sown to be counted later.

    Sent again with the same ``record_id``, it stores nothing and returns the first one.

    Raises
    ------
    OutOfTime
        When the day lies in the future or before the collection.
    NotPossibleNow
        When the lot has ended.
    AlreadyTaken
        When the id stands for a sample of another lot.
    """
    require_day(sown_on, now=now, field="sown_on")
    if sown_on < lot.collected_on:
        raise OutOfTime(
            f"Lot {lot.code} was collected on {day_words(lot.collected_on)}; a sample cannot have "
            "been sown before. Nothing was stored.",
            field="sown_on",
        )
    if lot.ended_on is not None and lot.ended_on <= sown_on:
        raise NotPossibleNow(
            f"Lot {lot.code} ended on {day_words(lot.ended_on)}. Nothing was stored.",
            field="sown_on",
        )
    test, created = GerminationTest.objects.get_or_create(
        pk=record_id or uuid4(), defaults={"lot": lot, "sown_on": sown_on, "recorded_at": now}
    )
    if not created and (test.lot_id, test.sown_on) != (lot.pk, sown_on):
        raise AlreadyTaken(
            f"The id {record_id} stands for another sample already. What was stored stays; open "
            "the form anew and enter it again."
        )
    return test


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
