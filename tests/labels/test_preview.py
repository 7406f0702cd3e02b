"""Does the drawing of the first sheet show what will be printed?"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from batches.labels import LabelRefused, first_sheet_pdf
from batches.labels.preview import first_sheet
from batches.labels.qr_drawing import qr_image
from batches.labels.stocks import STOCKS
from tests.labels.examples import CRISPA, every_kind, pot, tray
from tests.labels.paper import PRINTER, words

SVG = "{http://www.w3.org/2000/svg}"


def drawn(svg: str) -> ET.Element:
    return ET.fromstring(svg)  # noqa: S314 - our own drawing


@PRINTER
@pytest.mark.parametrize("stock", sorted(STOCKS))
def test_it_says_the_very_words_of_the_print(tmp_path, stock):
    """Read out of the PDF by poppler, which knows nothing of the drawing."""
    for row in every_kind():
        file = tmp_path / "first.pdf"
        file.write_bytes(first_sheet_pdf([row], STOCKS[stock]))
        root = drawn(first_sheet([row], STOCKS[stock]).svg)
        lines = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
        # As poppler gives ligatures and spaces back, only the letters are compared.
        assert _letters(" ".join(lines)) == _letters(words(file, "-raw")), row.code


def _letters(text: str) -> list[str]:
    return sorted(character for character in text if character.isalnum())


def test_labels_stand_on_their_places_from_the_first_free_one_on():
    stock = STOCKS["a4-24"]
    root = drawn(first_sheet([tray(1), tray(2)], stock, copies=2, start_at=22).svg)
    uses = [(float(use.get("x", 0)), float(use.get("y", 0))) for use in root.iter(f"{SVG}use")]
    assert uses == [pytest.approx(stock.corner(place), abs=0.01) for place in (21, 22, 23)]
    names = [use.get("href") for use in root.iter(f"{SVG}use")]
    assert names == ["#label-0", "#label-0", "#label-1"]


@pytest.mark.parametrize(
    ("labels", "start_at", "sheets"), [(24, 1, 1), (25, 1, 2), (1, 24, 1), (2, 24, 2), (49, 24, 3)]
)
def test_the_sheets_are_counted(labels, start_at, sheets):
    shown = first_sheet([pot(1)], STOCKS["a4-24"], copies=labels, start_at=start_at)
    assert (shown.labels, shown.sheets) == (labels, sheets)


def test_a_name_that_is_markup_stays_text():
    row = pot(1, common_name="<image href='file:///etc/hostname'/> & co")
    root = drawn(first_sheet([row], STOCKS["a4-24"]).svg)
    assert not [part for part in root.iter() if part.tag == f"{SVG}image"]


def test_what_does_not_fit_is_said():
    long = replace(pot(1), name_runs=((CRISPA[0][0] + " very" * 60, True),))
    assert any("too long" in note for note in first_sheet([long], STOCKS["a4-65"]).notes)


def test_what_cannot_be_printed_is_refused_as_the_print_does():
    with pytest.raises(LabelRefused, match="no label 25"):
        first_sheet([pot(1)], STOCKS["a4-24"], start_at=25)
    with pytest.raises(LabelRefused, match="nothing to print"):
        first_sheet([], STOCKS["a4-24"])


def test_a_qr_too_long_for_its_place_is_refused():
    assert qr_image("http://192.168.1.20:8000/t/26W14-073-05-P").startswith("<img")
    with pytest.raises(LabelRefused):
        qr_image(f"http://{'long-' * 30}host/t/26W14-073-05-P", side_mm=12)
