"""Has a printed plant passport the elements the law names, in its order and places?

*published: Regulation (EU) 2016/2031, Annex VII Part A, point 1 (as adopted)*: "Plant Passport" in
an official language and in English, if different, parted by a slash, in the upper right corner; the
flag of the Union in the upper left, in colour or black and white; the letters "A.", "B.", "C.",
"D." each followed by: the botanical name (optionally the variety); the two-letter code of the
member state, a hyphen and the registration number; the traceability code; the country of origin.
*published: the same Annex as revised for Great Britain*: "UK Plant Passport", no flag, "B." with
the registration number alone, "D." 'GB' or the third country, "E." where applicable 'GB(NI)'.
*published: Implementing Regulation (EU) 2017/2313, recital 2 and Annex*: size, border, proportions
and fonts are not laid down; the passport stands clearly apart from other text.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from batches.labels import LabelRefused, Stock, print_labels
from batches.labels.from_records import PotWishes, passports_of, pot_labels
from batches.labels.layout import lay_out, manner_of
from batches.labels.passport import passport_block
from batches.labels.stocks import STOCKS
from batches.services.passports import passport_terms, set_passport_terms
from tests.factories import TaxonFactory, TrayFactory
from tests.labels.paper import PRINTER, TOO_SMALL_FOR_PASSPORTS, words

pytestmark = pytest.mark.django_db
EVERY_STOCK = pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
ADDRESS = "https://hollowmere.example"
EU: dict[str, Any] = {
    "form": "EU", "title": "Pas Phlandaí", "member_state": "ie", "registration": "00012345",
    "origin": "IE", "gb_ni": False,
}  # fmt: skip
GB: dict[str, Any] = {
    "form": "GB", "title": "", "member_state": "", "registration": "00012345", "origin": "GB",
    "gb_ni": True,
}  # fmt: skip


@pytest.fixture
def pots():
    fern = TaxonFactory(
        genus="Polystichum", species="setiferum", cultivar="Plumosomultilobum", code="POLSET-PLU"
    )
    return TrayFactory(batch__taxon=fern, carrier=True, code="26W14-073-05-P")


def label(tray, terms: dict[str, Any], **more: Any):
    set_passport_terms(**terms)
    wanted = PotWishes(passport=passport_terms(), **more)
    return pot_labels(codes=[tray.code], address=ADDRESS, wanted=wanted).rows[0]


def lines_of(row) -> list[str]:
    assert row.passport is not None
    block = passport_block(row.passport, width=160.0)
    return ["".join(text for text, _ in one.line) for one in block.lines]


def test_the_eu_form_has_its_elements_in_order(pots):
    assert lines_of(label(pots, EU)) == [
        "Pas Phlandaí / Plant Passport",
        "A. Polystichum setiferum",
        "B. IE-00012345",
        "C. 26W14-073-05-P",
        "D. IE",
    ]


def test_english_is_said_once_where_it_is_the_official_language(pots):
    assert lines_of(label(pots, EU | {"title": "Plant Passport"}))[0] == "Plant Passport"
    assert lines_of(label(pots, EU | {"title": ""}))[0] == "Plant Passport"


def test_the_gb_form_has_its_own_words_and_no_flag(pots):
    row = label(pots, GB)
    assert lines_of(row) == [
        "UK Plant Passport",
        "A. Polystichum setiferum",
        "B. 00012345",
        "C. 26W14-073-05-P",
        "D. GB",
        "E. GB(NI)",
    ]
    assert passport_block(row.passport, width=160.0).shapes.count(b" h\n") == 0


def test_a_third_country_is_named_where_the_plants_came_from_one(pots):
    assert "D. New Zealand" in lines_of(label(pots, EU, origin="New Zealand"))


def test_title_and_flag_stand_in_the_upper_corners(pots):
    width = 160.0
    block = passport_block(label(pots, EU).passport, width=width)
    title, *parts = block.lines
    assert title.y < min(part.y for part in parts)
    assert title.x > width / 3
    # The flag's frame and twelve stars, left of the title and above the parts.
    corners = re.findall(rb"([\d.]+) ([\d.]+) m ", block.shapes)
    assert len(corners) == 12
    assert all(float(x) < title.x and float(y) < parts[0].y for x, y in corners)


@EVERY_STOCK
@pytest.mark.parametrize("terms", [EU, GB], ids=["EU", "GB"])
def test_it_stands_whole_and_apart_from_other_text_on_every_stock(pots, stock: Stock, terms):
    row = label(pots, terms)
    if stock.name in TOO_SMALL_FOR_PASSPORTS:
        # A passport is never cut: the label is refused in words.
        with pytest.raises(LabelRefused, match="arger"):
            lay_out(row, manner_of([row], stock))
        return
    laid = lay_out(row, manner_of([row], stock))
    left, top = laid.shapes_at
    inside = [one for one in laid.lines if one.y >= top]
    outside = [one for one in laid.lines if one.y < top]
    printed = " ".join("".join(text for text, _ in one.line) for one in inside)
    assert printed == " ".join(lines_of(row))
    assert all(one.y >= top and one.x >= left for one in inside)
    assert all(one.y + one.size <= top + 1e-6 for one in outside)
    assert b" re S" in laid.shapes


@PRINTER
def test_the_parts_can_be_read_from_the_print(pots, tmp_path: Path):
    row = label(pots, EU)
    output = tmp_path / "labels.pdf"
    print_labels([row], STOCKS["a4-24"], output=output)
    text = words(output)
    places = [text.index(line) for line in lines_of(row)]
    assert places == sorted(places)


def test_the_register_gets_what_stands_on_the_label_word_for_word(pots):
    row = label(pots, EU)
    (entry,) = passports_of([row], copies=12)
    assert (entry.a, entry.b, entry.c, entry.d, entry.labels) == (
        "Polystichum setiferum", "IE-00012345", pots.code, "IE", 12,
    )  # fmt: skip
