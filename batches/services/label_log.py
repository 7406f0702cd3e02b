"""Which labels were printed, when, by whom, on what?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from batches.models import LabelPrint, Tray
from batches.services.days import local_day
from batches.services.laid_out import mark_printed

_CHUNK = 400


def note_printed(
    *, codes: Sequence[str], kind: str, stock: str, labels: int, by: str, now: datetime
) -> LabelPrint:
    """Write a print into the log; trays (standing or laid out) are labelled from that day on.

    Parameters
    ----------
    kind : str
        ``tray``, ``pot`` or ``lot``; only tray labels make a tray labelled.
    """
    today = local_day(now)
    with transaction.atomic():
        if kind == "tray":
            for start in range(0, len(codes), _CHUNK):
                some = codes[start : start + _CHUNK]
                Tray.objects.filter(code__in=some).update(label_printed_on=today)
            mark_printed(codes=codes, today=today)
        return LabelPrint.objects.create(
            printed_at=now,
            by=by,
            stock=stock,
            kind=kind,
            codes=" ".join(codes),
            labels=labels,
        )


def unlabelled_codes() -> list[str]:
    """Return the codes of standing trays whose label was never printed, by batch and code."""
    return list(
        Tray.objects.unlabelled().order_by("batch__code", "code").values_list("code", flat=True)
    )


def last_prints(*, most: int = 10) -> list[LabelPrint]:
    """Return the latest prints, newest first."""
    return list(LabelPrint.objects.all()[:most])
