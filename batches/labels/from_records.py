"""What stands on the labels of these trays, lots and benches?

Nothing that goes stale: no stage and no count.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from batches.core.errors import UnknownCode
from batches.core.names import Run
from batches.core.stages import ROUTE_WORDS, Route
from batches.labels.rows import LabelRow, Runs
from batches.models import Batch, LaidOutTray, SporeLot, Tray
from batches.services.codes import find_code


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled:
    """Rows to print, and the codes of the trays whose labels they are."""

    rows: tuple[LabelRow, ...]
    codes: tuple[str, ...]


def tray_labels(*, codes: Sequence[str], address: str) -> Labelled:
    """Return the labels of trays, standing or laid out ahead, in the order asked for.

    Raises
    ------
    UnknownCode
        When a code is no tray's.
    """
    trays, ahead = _found(codes)
    rows = []
    for code in codes:
        if code in trays:
            rows.append(_tray_row(trays[code], address))
        elif code in ahead:
            rows.append(_laid_out_row(ahead[code], address))
        else:
            raise UnknownCode(f"“{code[:40]}” is no tray's code; nothing was printed.")
    return Labelled(rows=tuple(rows), codes=tuple(codes))


def pot_labels(*, codes: Sequence[str], address: str) -> Labelled:
    """Return pot labels of trays: the name they are sold under, with the tray's code."""
    trays, ahead = _found(codes)
    rows = []
    for code in codes:
        found = trays.get(code) or ahead.get(code)
        if found is None:
            raise UnknownCode(f"“{code[:40]}” is no tray's code; nothing was printed.")
        batch = found.batch
        rows.append(
            LabelRow(
                kind="pot",
                code=code,
                url=address_of(code, address),
                name_runs=_runs(batch.sold_name),
                common_name=batch.taxon.common_name,
                size_code=found.pot_size,
            )
        )
    return Labelled(rows=tuple(rows), codes=tuple(codes))


def lot_labels(*, lots: Iterable[SporeLot], address: str) -> Labelled:
    """Return packet labels of lots."""
    rows = tuple(
        LabelRow(
            kind="lot",
            code=lot.code,
            url=address_of(lot.code, address),
            name_runs=_runs(lot.taxon.name.runs),
            common_name=lot.taxon.common_name,
            sown_text=f"collected {day_with_week(lot.collected_on)}",
        )
        for lot in lots
    )
    return Labelled(rows=rows, codes=tuple(row.code for row in rows))


def trays_of(*, batch: Batch) -> list[str]:
    """Return the codes of a batch's standing and laid-out trays, by code."""
    standing = Tray.objects.active().filter(batch=batch).values_list("code", flat=True)
    waiting = LaidOutTray.objects.waiting().filter(batch=batch).values_list("code", flat=True)
    return sorted({*standing, *waiting})


def batch_named(code: str) -> Batch:
    """Return the batch of a code, whatever its case; raise `UnknownCode` when it is none."""
    found = find_code(code)
    if not isinstance(found.obj, Batch):
        raise UnknownCode(f"“{found.code}” is no batch's code; nothing was printed.")
    return found.obj


def day_with_week(day: date) -> str:
    """Return “Mon 30 Mar 2026 (wk 14)”."""
    return f"{day:%a} {day.day} {day:%b %Y} (wk {day.isocalendar().week})"


def address_of(code: str, address: str) -> str:
    """Return what the QR holds."""
    return f"{address.rstrip('/')}/t/{code}"


def _found(codes: Sequence[str]) -> tuple[dict[str, Tray], dict[str, LaidOutTray]]:
    trays: dict[str, Tray] = {}
    ahead: dict[str, LaidOutTray] = {}
    for start in range(0, len(codes), 400):
        some = codes[start : start + 400]
        for tray in Tray.objects.filter(code__in=some).select_related(
            "batch__taxon", "batch__spore_lot"
        ):
            trays[tray.code] = tray
        for row in LaidOutTray.objects.filter(
            Q(code__in=some), handed_back_on__isnull=True
        ).select_related("batch__taxon", "batch__spore_lot"):
            ahead[row.code] = row
    return trays, ahead


def _tray_row(tray: Tray, address: str) -> LabelRow:
    return _row(tray.code, tray.batch, _started_words(tray.batch), address, control=tray.control)


def _laid_out_row(row: LaidOutTray, address: str) -> LabelRow:
    return _row(row.code, row.batch, _started_words(row.batch), address)


def _row(code: str, batch: Batch, started: str, address: str, *, control: bool = False) -> LabelRow:
    lot = batch.spore_lot
    return LabelRow(
        kind="tray",
        code=code,
        url=address_of(code, address),
        name_runs=_runs(batch.taxon.name.runs),
        common_name=batch.taxon.common_name,
        sown_text=started,
        lot_code="" if lot is None else lot.code,
        tray_number=_number(code),
        extra_lines=("control, unsown",) if control else (),
    )


def _started_words(batch: Batch) -> str:
    word = {
        Route.SPORE: "sown",
        Route.BULBIL: "pegged down",
        Route.DIVISION: "divided",
        Route.BOUGHT_IN: ROUTE_WORDS[Route.BOUGHT_IN],
    }[Route(batch.route)]
    return f"{word} {day_with_week(batch.started_on)}"


def _number(code: str) -> str:
    """Return the tray's number in a given-out code; empty for a nursery's own."""
    parts = code.split("-")
    return parts[2].lstrip("0") if len(parts) == 4 and parts[2].isdigit() else ""


def _runs(runs: Sequence[Run]) -> Runs:
    return tuple((run.text, run.italic) for run in runs)
