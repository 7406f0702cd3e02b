"""Labels of an invented nursery, for the tests to print."""

from __future__ import annotations

from typing import Any

from batches.labels.rows import LabelRow, Passport, Runs

SHORT_HOST = "http://192.168.1.20:8000"
LONG_HOST = "https://hollowmere-office.local:8443"

CRISPA: Runs = (("Dryopteris affinis", True), (" 'Crispa Gracilis'", False))
GROUP: Runs = (("Polystichum setiferum", True), (" (Plumosum Group) 'Mossy Ashlinn'", False))
HYBRID: Runs = (("Polystichum ", True), ("×", False), ("dycei", True))


def label(
    kind: str = "tray",
    code: str = "3-26W14-073-K",
    name: Runs = CRISPA,
    *,
    host: str = SHORT_HOST,
    **words: Any,
) -> LabelRow:
    """Return a label with only its name, code and QR, and the words that are given."""
    row: Any = kind
    return LabelRow(kind=row, code=code, url=f"{host}/t/{code}", name_runs=name, **words)


def tray(number: int = 3, *, host: str = SHORT_HOST, **words: Any) -> LabelRow:
    """Return a tray's label as the nursery prints them."""
    usual = {
        "sown_text": "sown Mon 30 Mar 2026 (wk 14)",
        "lot_code": "26L-012-R",
        "tray_number": str(number),
    }
    return label(**{"code": f"{number}-26W14-073-K", "host": host, **usual, **words})


def pot(batch: int = 73, *, host: str = SHORT_HOST, **words: Any) -> LabelRow:
    """Return a pot's label with all that may stand on it but a plant passport."""
    usual = {
        "common_name": "Scaly male fern",
        "care_line": "Moist, shady, sheltered. Cut old fronds in early spring.",
        "size_code": "9 cm",
        "price": "€6.50",
    }
    return label("pot", **{"code": f"26W14-{batch:03d}-K", "host": host, **usual, **words})


def lot(*, host: str = SHORT_HOST) -> LabelRow:
    """Return the label of a packet of spores."""
    return label(
        "lot",
        "26L-012-R",
        host=host,
        sown_text="collected Tue 4 Aug 2026 (wk 32)",
        common_name="Scaly male fern",
        extra_lines=("Garden plant 17, House 2", "sow by Aug 2028"),
    )


def bench(*, host: str = SHORT_HOST) -> LabelRow:
    """Return the label of a bench."""
    return label(
        "bench", "B3", (("Bench 3", False),), host=host, extra_lines=("Glasshouse 2, north side",)
    )


def passport(form: Any = "EU", **parts: str) -> Passport:
    """Return an invented plant passport."""
    usual = {
        "title": "Pas Phlandaí / Plant Passport" if form == "EU" else "UK Plant Passport",
        "a": "Dryopteris affinis 'Crispa Gracilis'",
        "b": "XX-00012345",
        "c": "26W14-073-K",
        "d": "XX",
    }
    return Passport(form=form, **{**usual, **parts})


def every_kind(*, host: str = SHORT_HOST) -> list[LabelRow]:
    """Return one label of each kind, and the names that are hardest to set."""
    return [
        tray(3, host=host),
        tray(12, host=host, name=GROUP),
        pot(73, host=host),
        pot(74, host=host, name=HYBRID, care_line="", price=""),
        lot(host=host),
        bench(host=host),
    ]
