"""Does the calibration page show where the labels are?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from batches.labels import calibration_pdf
from batches.labels.stocks import STOCKS
from tests.labels.paper import PRINTER, ink_box, labels, pages, unpacked, words

pytestmark = PRINTER

SHEET = STOCKS["a4-24"]
DPI = 300


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
def test_every_frame_lies_on_its_label(stock, tmp_path: Path) -> None:
    file = tmp_path / "page.pdf"
    file.write_bytes(calibration_pdf(stock))
    (page,) = pages(file, dpi=DPI)
    for label in labels(page, stock, dpi=DPI):
        left, top, right, bottom = ink_box(label)
        assert left <= 3
        assert top <= 3
        assert right >= label.width - 3
        assert bottom >= label.height - 3


def test_it_is_drawn_where_the_labels_are_and_shifted_only_when_asked(tmp_path: Path) -> None:
    stock = replace(SHEET, offset_x=3.0, offset_y=2.0)
    boxes = []
    for shifted in (False, True):
        file = tmp_path / f"{shifted}.pdf"
        file.write_bytes(calibration_pdf(stock, shifted=shifted))
        boxes.append(ink_box(pages(file, dpi=254)[0]))
    plain, moved = boxes
    assert plain[0] == pytest.approx(10 * SHEET.margin_left, abs=2)
    assert plain[1] == pytest.approx(10 * SHEET.margin_top, abs=2)
    assert moved[0] - plain[0] == pytest.approx(30, abs=1)
    assert moved[1] - plain[1] == pytest.approx(20, abs=1)


def test_it_numbers_the_places_and_says_what_to_do(tmp_path: Path) -> None:
    file = tmp_path / "page.pdf"
    file.write_bytes(calibration_pdf(SHEET))
    said = words(file)
    assert "Print at 100 %" in said
    assert " 24" in said
    assert b"/PrintScaling /None" in unpacked(file.read_bytes())
