"""Has a backup been put in the records' place since a tablet last asked?

A restored nursery lacks what was stored after its backup was made. The number goes up with every
restore; a tablet that hears another number than the last time offers what it sent before again.
"""

from __future__ import annotations

from django.db import DEFAULT_DB_ALIAS

from batches.models import NurserySetting

NAME = "generation"


def current_generation(*, database: str = DEFAULT_DB_ALIAS) -> int:
    """Give the generation's number: 1 until a backup was restored (one query)."""
    kept = NurserySetting.objects.using(database).filter(name=NAME).first()
    return int(kept.value) if kept is not None else 1


def begin_generation(number: int, *, database: str = DEFAULT_DB_ALIAS) -> None:
    """Write down the number of the generation that begins now."""
    NurserySetting.objects.using(database).update_or_create(name=NAME, defaults={"value": number})
