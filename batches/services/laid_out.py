"""Which codes are given out ahead, so that the labels lie ready before the parent is opened?"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.db import transaction

from batches.core.errors import NotPossibleNow, NotUnderstood, UnknownCode
from batches.models import Batch, Bench, LaidOutTray, Tray
from batches.services.codes import give_tray_codes, hand_back_code
from batches.services.days import day_words
from batches.services.tray_life import require_standing

#: deeds that make new trays → their words
DEEDS: dict[str, str] = {
    "prick_out": "pricking out",
    "patch_out": "patching out",
    "pot_up": "potting up",
    "pot_on": "potting on",
}
POT_DEEDS = frozenset({"pot_up", "pot_on"})


@dataclass(frozen=True, slots=True, kw_only=True)
class LaidOutAhead:
    """Codes that wait to be filled out of one tray (None: out of several, or not said)."""

    parent: Tray | None
    batch: Batch
    deed: str
    codes: tuple[LaidOutTray, ...]

    @property
    def deed_words(self) -> str:
        """What they are laid out for: “pricking out”."""
        return DEEDS[self.deed]

    @property
    def unlabelled(self) -> int:
        """How many have no printed label yet."""
        return sum(code.label_printed_on is None for code in self.codes)

    @property
    def bench(self) -> Bench | None:
        """Where the tray stands that they are filled from; None where that is not known."""
        return None if self.parent is None else self.parent.bench


def lay_out(
    *,
    batch: Batch,
    parents: Sequence[Tray] = (),
    deed: str,
    how_many: int,
    container: str,
    cells: int | None = None,
    pot_size: str = "",
    by: str,
    today: date,
) -> tuple[LaidOutTray, ...]:
    """Give out codes for trays that are to be filled, 1 to 999 at once.

    Raises
    ------
    NotUnderstood
        For an unknown deed, no container, pots without a size, or no cells.
    NotPossibleNow
        When a parent is another batch's or has ended.
    BadCode
        When the batch would pass 999 trays.
    """
    if deed not in DEEDS:
        raise NotUnderstood(f"“{deed[:40]}” makes no new trays.", field="deed")
    if not container.strip():
        raise NotUnderstood(
            "Say what is filled: a cell tray 84, a carrier 9 cm …", field="container"
        )
    if deed in POT_DEEDS and not pot_size.strip():
        raise NotUnderstood("Pots have a size: 9 cm, 1 L …", field="pot_size")
    if cells is not None and not 1 <= cells <= 2000:
        raise NotUnderstood("A tray has 1 to 2,000 cells.", field="cells")
    for parent in parents:
        require_standing(parent)
        require_one_batch(batch, parent)
    with transaction.atomic():
        codes = give_tray_codes(batch=batch, how_many=how_many)
        return tuple(
            LaidOutTray.objects.bulk_create(
                LaidOutTray(
                    code=code,
                    batch=batch,
                    parent=parents[0] if len(parents) == 1 else None,
                    deed=deed,
                    container=container.strip()[:60],
                    cells=cells,
                    pot_size=pot_size.strip()[:20],
                    laid_out_on=today,
                    by=by.strip()[:80],
                )
                for code in codes
            )
        )


def require_one_batch(batch: Batch, tray: Tray) -> None:
    """Raise `NotPossibleNow` when the tray is another batch's: batches are never merged."""
    if tray.batch_id != batch.pk:
        raise NotPossibleNow(
            f"Tray {tray.code} is of batch {tray.batch.code}, not of {batch.code}: trays of "
            "different batches are never put together, or nobody knows any more what they are. "
            "Nothing was stored.",
            field="parents",
        )


def waiting_for(*, batch: Batch, deed: str = "") -> tuple[LaidOutTray, ...]:
    """Return the batch's codes that wait to be filled, by code; of one deed when it is named."""
    rows = LaidOutTray.objects.waiting().filter(batch=batch).select_related("parent")
    return tuple(rows.filter(deed=deed) if deed else rows)


def laid_out_ahead() -> tuple[LaidOutAhead, ...]:
    """Return all codes that wait to be filled, by batch, tray and deed; one query."""
    rows = (
        LaidOutTray.objects.waiting()
        .select_related("batch__taxon", "parent__bench")
        .order_by("batch__code", "parent__code", "deed", "code")
    )
    groups = groupby(rows, key=lambda row: (row.batch_id, row.parent_id, row.deed))
    found = []
    for (_, _, deed), group in groups:
        codes = tuple(group)
        found.append(
            LaidOutAhead(parent=codes[0].parent, batch=codes[0].batch, deed=deed, codes=codes)
        )
    return tuple(found)


def laid_out_by_code(*, code: str, batch: Batch, deed: str) -> LaidOutTray:
    """Return the waiting code that a tray of this batch and deed may be filled under.

    Raises
    ------
    UnknownCode
        When nothing was laid out under it.
    NotPossibleNow
        When it was filled or handed back, or laid out for another batch or deed.
    """
    row = LaidOutTray.objects.filter(code=code.strip()).select_related("batch").first()
    if row is None:
        raise UnknownCode(
            f"“{code[:40]}” was not laid out. Nothing was stored; lay it out first, or leave the "
            "code empty for a fresh one.",
            field="code",
        )
    if row.filled_by_id is not None:
        raise NotPossibleNow(
            f"{row.code} is filled already. To put more into it, continue the standing tray.",
            field="code",
        )
    if row.handed_back_on is not None:
        raise NotPossibleNow(
            f"{row.code} was handed back on {day_words(row.handed_back_on)} and is never used "
            "again. Take another code, and throw that label away.",
            field="code",
        )
    if row.batch_id != batch.pk:
        raise NotPossibleNow(
            f"{row.code} was laid out for batch {row.batch.code}, not for {batch.code}. Nothing "
            "was stored; look at the label again.",
            field="code",
        )
    if row.deed != deed:
        raise NotPossibleNow(
            f"{row.code} was laid out for {DEEDS[row.deed]}, not for {DEEDS[deed]}. Nothing was "
            "stored; take another code, or hand this one back.",
            field="code",
        )
    return row


def hand_back(*, codes: Iterable[str], today: date) -> tuple[LaidOutTray, ...]:
    """Hand back codes that were not needed; they are never given out again.

    A code handed back before stays so. Returns the rows by code.

    Raises
    ------
    UnknownCode, NotPossibleNow
        When one was never laid out, or is filled; then none is handed back.
    """
    wanted = sorted({code.strip() for code in codes})
    with transaction.atomic():
        rows = []
        for code in wanted:
            row = LaidOutTray.objects.filter(code=code).first()
            if row is None:
                raise UnknownCode(f"“{code[:40]}” was not laid out.", field="code")
            back = LaidOutTray.objects.waiting().filter(pk=row.pk).update(handed_back_on=today)
            row.refresh_from_db()
            if row.filled_by_id is not None:
                raise NotPossibleNow(
                    f"{row.code} is filled: it is a tray now. None was handed back.", field="code"
                )
            if back:
                hand_back_code(code=code, on=today)
            rows.append(row)
    return tuple(rows)


def mark_printed(*, codes: Iterable[str], today: date) -> int:
    """Note that labels of these trays, standing or laid out, were printed; return how many."""
    wanted = list({code.strip() for code in codes})
    with transaction.atomic():
        found = LaidOutTray.objects.filter(code__in=wanted, filled_by__isnull=True).update(
            label_printed_on=today
        )
        found += Tray.objects.filter(code__in=wanted).update(label_printed_on=today)
    return found
