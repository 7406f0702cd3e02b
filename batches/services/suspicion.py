"""Which trays may hold a fern that is not theirs?

A rogue fern seen in one tray flags its lot (or, where there is none, its batch) and the sister
trays at once: the spores were mixed, or a stray blew in where they were sown. The flag is lifted
by striking out the look, or by confirming the batch true to name after it.
"""

from __future__ import annotations

from datetime import date

from django.db.models import Q, QuerySet

from batches.core.signs import Sign
from batches.models import Batch, SporeLot, Tray, TrayCheck
from batches.services.days import local_day


def batches_with_a_rogue() -> dict[int, date]:
    """Return, by batch id, the day on which a rogue fern was last seen in a tray of it.

    Batches confirmed true to name on or after that day are left out.
    """
    found: dict[int, date] = {}
    confirmed: dict[int, date | None] = {}
    rows = (
        TrayCheck.objects.standing()
        .exclude(signs="")  # the index of looks that showed something
        .filter(signs__contains=str(Sign.ROGUE_FERN))
        .order_by("seen_at")
        .values_list("tray__batch", "tray__batch__confirmed_true_on", "seen_at")
    )
    for batch_id, confirmed_on, seen_at in rows:
        found[batch_id] = local_day(seen_at)
        confirmed[batch_id] = confirmed_on
    return {
        pk: day for pk, day in found.items() if (settled := confirmed[pk]) is None or settled < day
    }


def lots_under_suspicion() -> QuerySet[SporeLot]:
    """Return the lots of which a batch showed a rogue fern; a sowing from one is warned of."""
    return SporeLot.objects.filter(batches__in=list(batches_with_a_rogue())).distinct()


def all_trays_under_suspicion() -> QuerySet[Tray]:
    """Return every standing tray of a flagged lot, or of a flagged batch that has no lot."""
    batches = list(batches_with_a_rogue())
    lots = Batch.objects.filter(pk__in=batches, spore_lot__isnull=False).values("spore_lot")
    return Tray.objects.active().filter(
        Q(batch__in=batches) | Q(batch__spore_lot__in=lots, batch__confirmed_true_on__isnull=True)
    )


def trays_under_suspicion(
    *, lot: SporeLot | None = None, tray: Tray | None = None
) -> QuerySet[Tray]:
    """Return the standing trays under suspicion that belong to a lot, or are a tray's sisters.

    The tray itself is not among its sisters; nobody is, while no rogue fern was seen.
    """
    everyone = all_trays_under_suspicion()
    if lot is not None:
        return everyone.filter(batch__spore_lot=lot)
    if tray is None:
        return everyone
    sisters = Q(batch=tray.batch_id)
    if tray.batch.spore_lot_id is not None:
        sisters |= Q(batch__spore_lot=tray.batch.spore_lot_id)
    return everyone.filter(sisters).exclude(pk=tray.pk)
