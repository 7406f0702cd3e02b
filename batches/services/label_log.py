"""Which labels were printed, when, by whom, on what?"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import QuerySet, TextField, Value
from django.db.models.functions import Concat

from batches.models import LabelPrint, LaidOutTray, Source, Tray
from batches.services.change_notes import note_change
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
        ``tray``, ``pot``, ``lot``, ``source`` or ``bench``; only tray labels make a tray labelled,
        only an origin's own label an origin.
    """
    today = local_day(now)
    with transaction.atomic():
        if kind == "tray":
            for start in range(0, len(codes), _CHUNK):
                some = codes[start : start + _CHUNK]
                Tray.objects.filter(code__in=some).update(label_printed_on=today)
            mark_printed(codes=codes, today=today)
        if kind == "source":
            for start in range(0, len(codes), _CHUNK):
                some = codes[start : start + _CHUNK]
                Source.objects.filter(code__in=some).update(label_printed_on=today)
        note_change(
            what="labels printed", now=now, by=by, about=f"{stock}, {kind}",
            after={"labels": labels, "codes": len(codes)},
        )  # fmt: skip
        return LabelPrint.objects.create(
            printed_at=now,
            by=by,
            stock=stock,
            kind=kind,
            codes=" ".join(codes),
            labels=labels,
        )


def unlabelled_codes() -> list[str]:
    """Return codes without a printed label: of trays that stand, then of those laid out ahead."""
    standing = Tray.objects.unlabelled().order_by("batch__code", "code")
    ahead = LaidOutTray.objects.waiting().filter(label_printed_on__isnull=True)
    return [
        *standing.values_list("code", flat=True),
        *ahead.order_by("batch__code", "code").values_list("code", flat=True),
    ]


def count_unlabelled() -> int:
    """Return how many codes `unlabelled_codes` would name."""
    ahead = LaidOutTray.objects.waiting().filter(label_printed_on__isnull=True)
    return Tray.objects.unlabelled().count() + ahead.count()


def last_prints(*, most: int = 10) -> list[LabelPrint]:
    """Return the latest prints, newest first."""
    return list(LabelPrint.objects.all()[:most])


def prints_of(*, code: str = "") -> QuerySet[LabelPrint]:
    """Return the prints, newest first; with a code, those that had its label among them."""
    found = LabelPrint.objects.all()
    if not code:
        return found
    # Codes hold no spaces, so that a space on either side marks a whole one.
    padded = Concat(Value(" "), "codes", Value(" "), output_field=TextField())
    return found.annotate(padded=padded).filter(padded__contains=f" {code} ")


def printed_before(*, codes: Sequence[str], kind: str) -> int:
    """Return how many of these trays or origins have had a label printed; 0 for other kinds."""
    found = 0
    for start in range(0, len(codes), _CHUNK):
        some = codes[start : start + _CHUNK]
        if kind == "source":
            found += Source.objects.filter(code__in=some, label_printed_on__isnull=False).count()
        elif kind == "tray":
            found += Tray.objects.filter(code__in=some, label_printed_on__isnull=False).count()
            ahead = LaidOutTray.objects.waiting().filter(code__in=some)
            found += ahead.filter(label_printed_on__isnull=False).count()
    return found


def print_again(*, pk: str) -> tuple[list[str], str]:
    """Return the codes and the kind of a print of the log; nothing where there is none."""
    found = LabelPrint.objects.filter(pk=pk).first() if pk.isdecimal() else None
    return (found.codes.split(), found.kind) if found is not None else ([], "tray")
