"""What stands on the labels of these trays, lots and benches?

Nothing that goes stale: no stage and no count.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from django.db.models import Model, QuerySet

from batches.core.errors import UnknownCode
from batches.core.names import Run
from batches.core.stages import ROUTE_WORDS, Route
from batches.labels.rows import LabelRow, Passport, Runs
from batches.models import Batch, Bench, LaidOutTray, Source, SporeLot, Tray
from batches.services.codes import a_noun, find_code
from batches.services.language import said
from batches.services.own_settings import own_setting
from batches.services.passports import PassportTerms, Printed, botanical_name

Thing = TypeVar("Thing", bound=Model)
_CHUNK = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Labelled:
    """Rows to print, and the codes of the trays whose labels they are."""

    rows: tuple[LabelRow, ...]
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PotWishes:
    """What pot labels may bear beside the name: care line, size, price, plant passport.

    ``passport`` holds the nursery's terms, None where none is printed; ``origin`` is its part D
    where that is not the nursery's usual one.
    """

    care: bool = False
    size: bool = True
    price: str = ""
    passport: PassportTerms | None = None
    origin: str = ""


PLAIN_POTS = PotWishes()


def tray_labels(*, codes: Sequence[str], address: str) -> Labelled:
    """Return the labels of trays, standing or laid out ahead, in the order asked for.

    A code is looked up exactly, then whatever its case; the label bears it as it is stored.

    Raises
    ------
    UnknownCode
        When a code is no tray's.
    """
    language = labels_language()
    rows = tuple(_row(one, address, language=language) for one in _trays_by(codes))
    return Labelled(rows=rows, codes=tuple(row.code for row in rows))


def pot_labels(*, codes: Sequence[str], address: str, wanted: PotWishes = PLAIN_POTS) -> Labelled:
    """Return pot labels of trays: the name they are sold under, with the tray's code."""
    language = labels_language()
    rows = tuple(
        LabelRow(
            kind="pot",
            code=found.code,
            url=address_of(found.code, address),
            name_runs=_runs(found.batch.sold_name),
            common_name=found.batch.taxon.common_name,
            care_line=found.batch.taxon.care_line if wanted.care else "",
            size_code=found.pot_size if wanted.size else "",
            price=wanted.price,
            passport=_passport(found, wanted),
            language=language,
        )
        for found in _trays_by(codes)
    )
    return Labelled(rows=rows, codes=tuple(row.code for row in rows))


def passports_of(rows: Sequence[LabelRow], *, copies: int) -> tuple[Printed, ...]:
    """Return the passports that stand on these labels, for the register."""
    return tuple(
        Printed(labels=copies, c=row.code, **{
            name: getattr(row.passport, name) for name in ("form", "title", "a", "b", "d", "e")
        })
        for row in rows
        if row.passport is not None
    )  # fmt: skip


def _passport(found: Tray | LaidOutTray, wanted: PotWishes) -> Passport | None:
    """Return the passport block: part C is the code on the label."""
    terms = wanted.passport
    if terms is None:
        return None
    return Passport(
        form="GB" if terms.form == "GB" else "EU",
        title=terms.title,
        a=botanical_name(found.batch),
        b=terms.b,
        c=found.code,
        d=wanted.origin or terms.origin,
        e=terms.e,
    )


def lot_labels(*, codes: Sequence[str], address: str) -> Labelled:
    """Return packet labels of lots."""
    language = labels_language()
    rows = tuple(
        LabelRow(
            kind="lot",
            code=lot.code,
            url=address_of(lot.code, address),
            name_runs=_runs(lot.taxon.name.runs),
            common_name=lot.taxon.common_name,
            sown_text=on_day("collected", lot.collected_on, language=language),
            language=language,
        )
        for lot in _things(codes, SporeLot.objects.select_related("taxon"), noun="lot")
    )
    return Labelled(rows=rows, codes=tuple(row.code for row in rows))


def source_labels(*, codes: Sequence[str], address: str) -> Labelled:
    """Return labels of stock plants and other origins: the fern, what it is, whence, its place."""
    rows, language = [], labels_language()
    origins = Source.objects.select_related("taxon", "bench__house")
    for source in _things(codes, origins, noun="origin"):
        bench = source.bench
        whence = source.locality or source.supplier or source.mothers
        lines = (
            ", ".join(
                said(word, language=language)
                for word in (source.get_kind_display(), source.get_provenance_display())
                if word
            ),
            f"{said('from', language=language)} {whence}" if whence else "",
            f"{bench}, {bench.house}" if bench is not None else "",
        )
        rows.append(
            LabelRow(
                kind="lot",
                code=source.code,
                url=address_of(source.code, address),
                name_runs=_runs(source.taxon.name.runs),
                common_name=source.taxon.common_name,
                extra_lines=tuple(line for line in lines if line),
                language=language,
            )
        )
    return Labelled(rows=tuple(rows), codes=tuple(row.code for row in rows))


def bench_labels(*, codes: Sequence[str], address: str) -> Labelled:
    """Return labels of benches: the bench large, and its house."""
    language = labels_language()
    word = said("bench", language=language).capitalize()
    rows = tuple(
        LabelRow(
            kind="bench",
            code=bench.code,
            url=address_of(bench.code, address),
            name_runs=((bench.name or f"{word} {bench.code}", False),),
            extra_lines=(str(bench.house),),
            language=language,
        )
        for bench in _things(codes, Bench.objects.select_related("house"), noun="bench")
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


def _trays_by(codes: Sequence[str]) -> list[Tray | LaidOutTray]:
    """Return the tray, or the code laid out, behind each code; `UnknownCode` for another's."""
    trays = Tray.objects.select_related("batch__taxon", "batch__spore_lot")
    waiting = LaidOutTray.objects.filter(handed_back_on__isnull=True)
    ahead = waiting.select_related("batch__taxon", "batch__spore_lot")
    exact: dict[str, Tray | LaidOutTray] = {}
    for start in range(0, len(codes), _CHUNK):
        some = codes[start : start + _CHUNK]
        exact |= {row.code: row for row in ahead.filter(code__in=some)}
        exact |= {tray.code: tray for tray in trays.filter(code__in=some)}
    found = [exact.get(code) or _another_way(code, (Tray, LaidOutTray), "tray") for code in codes]
    return list(dict.fromkeys(found))


def _things(codes: Sequence[str], rows: QuerySet[Thing], *, noun: str) -> list[Thing]:
    """Return the thing behind each code, all of one kind; `UnknownCode` for another's."""
    exact = {}
    for start in range(0, len(codes), _CHUNK):
        for row in rows.filter(code__in=codes[start : start + _CHUNK]):
            exact[str(vars(row)["code"])] = row
    found = [exact.get(code) or _another_way(code, (rows.model,), noun) for code in codes]
    return list(dict.fromkeys(found))


def _another_way(code: str, wanted: tuple[type[Any], ...], noun: str) -> Any:
    """Return what a code that nothing carries exactly stands for, whatever its case."""
    try:
        found = find_code(code)
    except UnknownCode as error:
        raise UnknownCode(
            f"“{code[:40]}” is no {noun}'s code; nothing was printed. {error.message}"
        ) from error
    if not isinstance(found.obj, wanted):
        raise UnknownCode(
            f"“{found.code}” is {a_noun(found.kind)}'s code and no {noun}'s; nothing was printed."
        )
    return found.obj


def _is_control(one: Tray | LaidOutTray) -> bool:
    return isinstance(one, Tray) and one.control


def _row(one: Tray | LaidOutTray, address: str, *, language: str) -> LabelRow:
    batch, lot = one.batch, one.batch.spore_lot
    return LabelRow(
        kind="tray",
        code=one.code,
        url=address_of(one.code, address),
        name_runs=_runs(batch.taxon.name.runs),
        common_name=batch.taxon.common_name,
        sown_text=on_day(_started_word(batch), batch.started_on, language=language),
        lot_code="" if lot is None else lot.code,
        tray_number=_number(one.code),
        lot_word=said("lot", language=language),
        tray_word=said("tray", language=language),
        extra_lines=(said("control, unsown", language=language),) if _is_control(one) else (),
        language=language,
    )


def labels_language() -> str:
    """Return the language of labels: the nursery's, whoever prints."""
    return str(own_setting("language"))


def on_day(word: str, day: date, *, language: str) -> str:
    """Return “sown Mon 30 Mar 2026 (wk 14)” as the language says it."""
    return f"{said(word, language=language)} {said(day_with_week(day), language=language)}"


def _started_word(batch: Batch) -> str:
    return {
        Route.SPORE: "sown",
        Route.BULBIL: "pegged down",
        Route.DIVISION: "divided",
        Route.BOUGHT_IN: ROUTE_WORDS[Route.BOUGHT_IN],
    }[Route(batch.route)]


def _number(code: str) -> str:
    """Return the tray's number in a given-out code; empty for a nursery's own."""
    parts = code.split("-")
    return parts[2].lstrip("0") if len(parts) == 4 and parts[2].isdigit() else ""


def _runs(runs: Sequence[Run]) -> Runs:
    return tuple((run.text, run.italic) for run in runs)
