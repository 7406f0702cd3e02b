"""Are the book's names taken for the right ferns, older names and slips of the pen too?"""

from __future__ import annotations

import pytest

from batches.services.sowing_book.ferns import answers_offered, ferns_named, name_in
from tests.factories import TaxonFactory


def _answer(words: str) -> tuple[str, bool]:
    (named,) = ferns_named([words])
    return named.answer, named.sure


def test_the_nursery_s_own_ferns_go_before_the_list(db: None) -> None:
    assert _answer("Osmunda regalis") == ("list:Osmunda regalis", True)
    own = TaxonFactory(code="ROYAL", genus="Osmunda", species="regalis", common_name="big royal")
    for words in ("Osmunda regalis", "OSMUNDA  regalis".replace("  ", " "), "royal", "Big Royal"):
        assert _answer(words) == (f"here:{own.code}", True), words
    offered = [value for value, _ in answers_offered()]
    assert "here:ROYAL" in offered
    assert "list:Osmunda regalis" not in offered


def test_older_names_and_slips_are_known(db: None) -> None:
    assert _answer("Phyllitis scolopendrium") == ("list:Asplenium scolopendrium", True)
    assert _answer("Driopteris filix-mas") == ("list:Dryopteris filix-mas", False)
    assert _answer("zzz") == ("", False)


def test_every_name_stands_once_with_its_rows_those_to_settle_first(db: None) -> None:
    named = ferns_named(["Male fern", "Nosuch thing", "Male fern", ""])
    assert [(one.words, one.rows) for one in named] == [("Nosuch thing", 1), ("Male fern", 2)]


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("dryopteris affinis 'Cristata'", "Dryopteris affinis 'Cristata'"),
        ("Athyrium niponicum var. pictum", "Athyrium niponicum var. pictum"),
        ("Polystichum x dycei", "Polystichum ×dycei"),
    ],
)
def test_a_name_is_read_from_words(words: str, text: str) -> None:
    name = name_in(words)
    assert name is not None
    assert name.text == text


@pytest.mark.parametrize("words", ["", "12 trays", "???"])
def test_what_spells_no_name_is_none(words: str) -> None:
    assert name_in(words) is None
