"""What stands on each kind of label, how large, and what gives way?

Sizes are points on a label of about 60 × 30 mm; a stock's own scale grows or shrinks all of them
together, measured on a specimen, so that every label of a sheet has the same type. Data only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from batches.labels.rows import Kind, LabelRow, Passport, Runs


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """One line or block of a label.

    `size` is its wished type size, `least` the smallest it may shrink to (points), `lines` how many
    lines the specimen may take, `gap` the space above it in type sizes. Slots with `low` stand at
    the foot of the label. `whole`: may break anywhere, but is never cut. `prose`: breaks
    between any two words equally well.
    """

    field: str
    size: float
    least: float = 4.5
    lines: int = 1
    bold: bool = False
    low: bool = False
    whole: bool = False
    prose: bool = False
    gap: float = 0.25


NAME = "name"

DESIGNS: Mapping[Kind, tuple[Slot, ...]] = MappingProxyType(
    {
        "tray": (
            Slot(field=NAME, size=12.5, least=4.5, lines=2, bold=True),
            Slot(field="date", size=11, least=4.5, lines=3),
            Slot(field="extra line", size=7, lines=2),
            Slot(field="code", size=13, least=4.5, bold=True, low=True, whole=True),
            Slot(field="lot and tray", size=8, least=4.5, lines=2, low=True, whole=True),
        ),
        "pot": (
            Slot(field=NAME, size=12.5, least=4.5, lines=2, bold=True),
            Slot(field="common name", size=9.5, lines=2),
            Slot(field="care line", size=7, lines=3, prose=True),
            Slot(field="extra line", size=7, lines=2),
            Slot(field="size and price", size=9.5, bold=True, low=True, whole=True),
            Slot(field="code", size=8.5, least=5, low=True, whole=True),
        ),
        "lot": (
            Slot(field=NAME, size=12, least=4.5, lines=2, bold=True),
            Slot(field="common name", size=8.5, lines=2),
            Slot(field="date", size=8.5, lines=3),
            Slot(field="extra line", size=7.5, lines=2),
            Slot(field="code", size=13, least=4.5, bold=True, low=True, whole=True),
        ),
        "bench": (
            Slot(field=NAME, size=22, least=6, lines=2, bold=True),
            Slot(field="extra line", size=11, lines=2),
            Slot(field="code", size=13, least=4.5, bold=True, low=True, whole=True),
        ),
    }
)

# What an ordinary label says; only its length counts. An invented nursery's.
_SPECIMEN = LabelRow(
    kind="tray",
    code="12-26W14-073-K",
    url="http://192.168.100.100:8000/t/12-26W14-073-K",
    name_runs=(("Polystichum setiferum", True), (" 'Plumosum Moss'", False)),
    common_name="Soft shield fern",
    sown_text="sown Mon 30 Mar 2026 (wk 14)",
    lot_code="26L-012-R",
    tray_number="tray 12",
    care_line="Moist, shady, sheltered. Cut old fronds in early spring.",
    size_code="9 cm",
    price="12.50",
    extra_lines=("House 2, bench 4, north side",),
)
_OPTIONAL = (
    "common_name",
    "sown_text",
    "lot_code",
    "tray_number",
    "care_line",
    "size_code",
    "price",
)
_NOTHING: dict[str, Any] = dict.fromkeys(_OPTIONAL, "")
_BARE = replace(_SPECIMEN, extra_lines=(), **_NOTHING)
_BENCH_SPECIMEN: Runs = (("Bench 12", False),)
_JOIN = "  ·  "


def texts(row: LabelRow) -> tuple[tuple[Slot, int, Runs], ...]:
    """Return the slots that this row fills, in order: slot, how-manieth text of it, text."""
    filled: list[tuple[Slot, int, Runs]] = []
    for slot in DESIGNS[row.kind]:
        found = [runs for runs in _texts_of(row, slot.field) if runs]
        filled.extend((slot, number, runs) for number, runs in enumerate(found))
    return tuple(filled)


def _texts_of(row: LabelRow, field: str) -> tuple[Runs, ...]:
    if field == NAME:
        return (row.name_runs,)
    if field == "extra line":
        return tuple(((line, False),) for line in row.extra_lines if line)
    text = {
        "common name": row.common_name,
        "date": row.sown_text,
        "care line": row.care_line,
        "code": row.code,
        "lot and tray": _JOIN.join(filter(None, (_lot(row), _tray(row)))),
        "size and price": _JOIN.join(filter(None, (row.size_code, row.price))),
    }[field]
    return (((text, False),),) if text else ()


def _lot(row: LabelRow) -> str:
    return f"{row.lot_word} {row.lot_code}" if row.lot_code else ""


def _tray(row: LabelRow) -> str:
    number = row.tray_number
    return f"{row.tray_word} {number}" if number.isdecimal() else number


def specimens(rows: Sequence[LabelRow]) -> dict[Kind, LabelRow]:
    """For each kind a row of ordinary length that fills every field that any of `rows` fills.

    One print has one specimen a kind, and so one set of type sizes.
    """
    return {kind: _specimen([row for row in rows if row.kind == kind]) for kind in _kinds(rows)}


def _kinds(rows: Sequence[LabelRow]) -> Iterable[Kind]:
    return dict.fromkeys(row.kind for row in rows)


def _specimen(rows: Sequence[LabelRow]) -> LabelRow:
    passports = [row.passport for row in rows if row.passport]
    filled: dict[str, Any] = {
        field: getattr(_SPECIMEN, field)
        for field in _OPTIONAL
        if any(getattr(row, field) for row in rows)
    }
    return replace(
        _BARE,
        kind=rows[0].kind,
        name_runs=_BENCH_SPECIMEN if rows[0].kind == "bench" else _SPECIMEN.name_runs,
        extra_lines=_SPECIMEN.extra_lines * max(sum(map(bool, row.extra_lines)) for row in rows),
        passport=_passport_specimen(passports[0] if passports else None),
        **filled,
    )


def _passport_specimen(passport: Passport | None) -> Passport | None:
    """Return a block of the same form and of ordinary length."""
    if passport is None:
        return None
    return Passport(
        form=passport.form,
        title="Plant Passport / Plant Passport" if passport.form == "EU" else "UK Plant Passport",
        a="Polystichum setiferum 'Plumosum Moss'",
        b="XX-12345678",
        c=_SPECIMEN.code,
        d="XX",
        e="GB(NI)" if passport.e else "",
    )
