"""Does a reader that is not ours get exactly the code back from what a printer would print?

The PDF is turned into pure black and white by poppler at the resolutions of label printers (203 and
300 dpi: makers' data sheets, common practice, no source) and read by zxing-cpp, an independent
reader of ISO/IEC 18004. "Ink gain" darkens every dot that touches a dark one.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from batches.labels import LabelRow, Stock, print_labels
from batches.labels.stocks import STOCKS
from tests.labels.examples import LONG_HOST, SHORT_HOST, every_kind, passport, pot, tray
from tests.labels.paper import (
    PRINTER,
    TOO_SMALL_FOR_PASSPORTS,
    labels,
    pages,
    read_codes,
    with_ink_gain,
)

pytestmark = PRINTER

EVERY_STOCK = pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
EVERY_DPI = pytest.mark.parametrize("dpi", [203, 300])
HOSTS = [SHORT_HOST, LONG_HOST, "http://localhost:8000", "https://hollowmere.example"]


def leads_to(text: str, row: LabelRow) -> bool:
    """Return whether the QR's text is the row's address; a host means the same in capitals.

    RFC 3986, 6.2.2.1: scheme and host are case-insensitive, the path is not.
    """
    (scheme, _, host), path = text.split("/", 3)[:3], text.split("/", 3)[3]
    return path == f"t/{row.code}" and f"{scheme}//{host}/".lower() == row.url[: -len(path)].lower()


def all_read(rows: list[LabelRow], stock: Stock, folder: Path, *, dpi: int) -> None:
    output = folder / "labels.pdf"
    print_labels(rows, stock, output=output)
    cut = [one for page in pages(output, dpi=dpi) for one in labels(page, stock, dpi=dpi)]
    for row, image in zip(rows, cut, strict=False):
        for printed in (image, with_ink_gain(image)):
            read = read_codes(printed)
            assert len(read) == 1, row
            assert leads_to(read[0], row), (read, row.url)


@EVERY_STOCK
@EVERY_DPI
@pytest.mark.parametrize("host", HOSTS)
def test_every_kind_of_label_reads_back(stock: Stock, dpi: int, host: str, tmp_path: Path) -> None:
    all_read(every_kind(host=host), stock, tmp_path, dpi=dpi)


@EVERY_DPI
@pytest.mark.parametrize("form", ["EU", "GB"])
def test_a_pot_with_a_plant_passport_reads_back(dpi: int, form: str, tmp_path: Path) -> None:
    """On every stock but those that are too small for a passport."""
    for stock in STOCKS.values():
        if stock.name not in TOO_SMALL_FOR_PASSPORTS:
            row = pot(73, passport=passport(form, a="Dryopteris affinis"), care_line="", price="")
            all_read([row], stock, tmp_path, dpi=dpi)


@EVERY_STOCK
@EVERY_DPI
def test_every_place_of_a_full_sheet_reads_back(stock: Stock, dpi: int, tmp_path: Path) -> None:
    # Each place falls differently on the printer's dots.
    rows = [tray(number) for number in range(1, 1 + max(20, stock.labels_per_page))]
    all_read(rows, stock, tmp_path, dpi=dpi)


@EVERY_STOCK
@EVERY_DPI
def test_a_nursery_s_own_codes_read_back_in_their_own_case(
    stock: Stock, dpi: int, tmp_path: Path
) -> None:
    rng = random.Random(11)
    letters = "abcdefghijkABCDEFGHIJK0123456789"
    rows = []
    for length in range(1, 33):
        middle = "".join(rng.choices(letters + "-._", k=max(0, length - 2)))
        code = (rng.choice(letters) + middle + rng.choice(letters))[-length:]
        rows.append(tray(1, code=code, host=rng.choice(HOSTS)))
    all_read(rows, stock, tmp_path, dpi=dpi)


def test_the_check_can_fail(tmp_path: Path) -> None:
    output = tmp_path / "labels.pdf"
    print_labels([tray(1)], STOCKS["a4-65"], output=output)
    image = labels(pages(output, dpi=203)[0], STOCKS["a4-65"], dpi=203)[0]
    for _ in range(3):
        image = with_ink_gain(image)
    assert read_codes(image) == []
