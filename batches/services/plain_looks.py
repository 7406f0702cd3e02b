"""How are fifty plain looks of a tablet stored at the cost of few?

“Nothing new”, a trouble, a note: such a look has no stage, count or loss, so nothing of it can
contradict the stock book or another look. Those of one message, at trays that the message names
once, are stored together and folded once. All else goes one by one (`checks.record_check`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import NurseryError
from batches.models import ToSettle, Tray, TrayCheck
from batches.services.checks import message_of
from batches.services.days import local_day
from batches.services.standing import refold
from batches.services.tray_life import require_looked_in_life, require_moment


def record_plain_looks(*, looks: Sequence[tuple[str, TrayCheck]], now: datetime) -> dict[UUID, str]:
    """Store those of some looks that nothing stands against, and return what to say of each.

    Parameters
    ----------
    looks : sequence of (str, TrayCheck)
        Tray codes with rows not yet stored, without tray, stage, count and losses.

    Returns
    -------
    dict
        By id of the look. Whatever is not in it was not stored and goes the careful way: a code
        that is not exactly a tray's, a tray named twice, an id that is known, a time out of time.
    """
    codes = Counter(code for code, _ in looks)
    ids = Counter(look.id for _, look in looks)
    known = set(TrayCheck.objects.filter(pk__in=ids).values_list("pk", flat=True))
    known |= set(ToSettle.objects.filter(pk__in=ids).values_list("pk", flat=True))
    with transaction.atomic():
        held = _held([code for code, count in codes.items() if count == 1])
        stored = []
        for code, look in looks:
            tray = held.get(code)
            if (
                tray is None
                or ids[look.id] > 1
                or look.id in known
                or not _in_time(look, tray, now)
            ):
                continue
            look.tray = tray
            stored.append(look)
        if not stored:
            return {}
        TrayCheck.objects.bulk_create(stored)
        refold(trays=[look.tray for look in stored], recorded_at=now)
        folded = Tray.objects.with_fern().in_bulk([look.tray_id for look in stored])
        return {look.id: message_of(look, folded[look.tray_id], (), None) for look in stored}


def _held(codes: Sequence[str]) -> dict[str, Tray]:
    """Return the trays of these very codes, held for this transaction in one order."""
    rows = Tray.objects.filter(code__in=codes).order_by("pk")
    rows = rows.select_for_update(of=("self",)).select_related("batch__taxon")
    return {tray.code: tray for tray in rows}


def _in_time(look: TrayCheck, tray: Tray, now: datetime) -> bool:
    try:
        require_moment(look.seen_at, now=now)
        require_looked_in_life(tray, local_day(look.seen_at))
    except NurseryError:
        return False
    return True
