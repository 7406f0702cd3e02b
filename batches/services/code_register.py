"""How is a serial taken, and a code written into the register, once and by one person only?

Counters move by conditional update: whoever comes second takes the next one.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db import IntegrityError, transaction

from batches.core.codes import BadCode
from batches.core.errors import ChangedMeanwhile
from batches.models import Batch, CodeCounter, CodeEntry

#: how often a serial is tried for while others take theirs
TRIES = 50


def next_tray_numbers(batch: Batch, how_many: int) -> range:
    """Take the next tray numbers of a batch; at most 999 in all."""
    for _ in range(TRIES):
        last = Batch.objects.values_list("trays_given", flat=True).get(pk=batch.pk)
        if last + how_many > 999:
            raise BadCode(
                f"Batch {batch.code} has given out {last} tray numbers; a batch holds at most 999 "
                "trays. Lower the number.",
                field="how_many",
            )
        moved = Batch.objects.filter(pk=batch.pk, trays_given=last).update(
            trays_given=last + how_many
        )
        if moved:
            batch.trays_given = last + how_many
            return range(last + 1, last + how_many + 1)
    raise ChangedMeanwhile(f"No tray codes of {batch.code} could be given out just now. Try again.")


def next_serial(series: str) -> int:
    """Take the next serial of a series, from 1 up."""
    for _ in range(TRIES):
        counter, _ = CodeCounter.objects.get_or_create(series=series)
        moved = CodeCounter.objects.filter(series=series, last=counter.last).update(
            last=counter.last + 1
        )
        if moved:
            return counter.last + 1
    raise ChangedMeanwhile("No code could be given out just now. Try again.")


def register(codes: Iterable[str], *, kind: str) -> bool:
    """Write given-out codes into the register; no where one of them, in any case, is taken."""
    wanted = list(codes)
    if CodeEntry.objects.filter(folded__in=[code.casefold() for code in wanted]).exists():
        return False
    try:
        with transaction.atomic():
            CodeEntry.objects.bulk_create(
                CodeEntry(code=code, folded=code.casefold(), kind=kind, given_out_here=True)
                for code in wanted
            )
    except IntegrityError:
        return False
    return True
