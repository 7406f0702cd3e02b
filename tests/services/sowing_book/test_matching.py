"""Do headings tell their columns, and is a matching that cannot work refused?"""

from __future__ import annotations

import pytest

from batches.core.errors import NotUnderstood
from batches.services.sowing_book.matching import FIELD_NAMED, guessed, matched
from batches.services.sowing_book.reading import read_book


def test_headings_are_guessed_each_field_once() -> None:
    book = read_book(
        b"Label;Species;Date sown;Bench;Trays;Remarks;Finished;Reason;Colour\n1;;;;;;;;\n"
    )
    assert [guessed(book).get(place, "") for place in range(9)] == [
        "code", "fern", "sown_on", "bench", "trays", "note", "ended_on", "why", ""
    ]  # fmt: skip
    twice = read_book(b"Fern;Fern name;Sown\n1;2;3\n")
    assert list(guessed(twice).values()).count("fern") == 1


def test_german_headings_are_guessed_too() -> None:
    book = read_book("Etikett;Farn;Gesät am;Tisch;Schalen;Bestand;Gefäß;Notiz;Ende;Grund;Keimung\n"
                     "1;;;;;;;;;;\n".encode())  # fmt: skip
    assert [guessed(book).get(place, "") for place in range(11)] == [
        "code", "fern", "sown_on", "bench", "trays", "alive", "container", "note", "ended_on",
        "why", "green_on",
    ]  # fmt: skip


def test_a_matching_needs_fern_and_day_and_no_field_twice() -> None:
    book = read_book(b"a;b;c;d\n1;2;3;4\n")
    assert matched({0: "fern", 1: "sown_on", 2: "note", 3: "note"}, book=book)
    with pytest.raises(NotUnderstood, match="No column is “sown on”"):
        matched({0: "fern"}, book=book)
    with pytest.raises(NotUnderstood, match="“a”, “b” cannot all be “fern”"):
        matched({0: "fern", 1: "fern", 2: "sown_on"}, book=book)
    with pytest.raises(NotUnderstood, match="unknown"):
        matched({0: "fern", 1: "sown_on", 9: "code"}, book=book)


def test_hints_tell_one_field_each() -> None:
    hints = [hint for field in FIELD_NAMED.values() for hint in field.hints]
    assert len(set(hints)) == len(hints)
