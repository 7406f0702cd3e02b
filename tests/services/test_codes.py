"""Are codes given out once, kept as they are, and found whatever their case?"""

from __future__ import annotations

from datetime import date

import pytest

from batches.core.codes import BadCode, kind_code, read_code
from batches.core.errors import AlreadyTaken, UnknownCode
from batches.models import CodeCounter, CodeEntry
from batches.services import codes
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_batch_codes_of_one_week_count_up_and_fit_their_check_letter():
    given = [codes.give_batch_code(started_on=date(2026, 4, 1)) for _ in range(3)]

    assert [code[:9] for code in given] == ["26W14-001", "26W14-002", "26W14-003"]
    assert all(read_code(code).fits for code in given)


def test_a_week_at_new_year_takes_the_iso_year():
    # ISO 8601: 1 January 2027 lies in week 53 of 2026.
    assert codes.give_batch_code(started_on=date(2027, 1, 1)).startswith("26W53-001-")


def test_a_code_given_out_is_never_given_again_even_when_the_counter_is_set_back():
    first = codes.give_kind_code(kind="lot", year=2026)
    CodeCounter.objects.update(last=0)

    second = codes.give_kind_code(kind="lot", year=2026)

    assert first.startswith("L26-001-")
    assert second.startswith("L26-002-")


def test_a_given_code_steps_over_an_own_code_that_differs_only_in_case():
    codes.take_own_code(code=kind_code("lot", 2026, 1).lower(), kind="lot")

    assert codes.give_kind_code(kind="lot", year=2026).startswith("L26-002-")


def test_own_codes_are_kept_as_they_are_and_are_unique_across_kinds():
    assert codes.take_own_code(code=" Kiln-2.b ", kind="house") == "Kiln-2.b"
    with pytest.raises(AlreadyTaken, match="the code of a house"):
        codes.take_own_code(code="Kiln-2.b", kind="bench")
    codes.take_own_code(code="KILN-2.B", kind="bench")

    assert set(CodeEntry.objects.values_list("code", flat=True)) == {"Kiln-2.b", "KILN-2.B"}


@pytest.mark.parametrize("text", ["", "-a", "a b", "x" * 33, "é1", "a/b"])
def test_a_text_that_cannot_be_a_code_is_refused(text):
    with pytest.raises(BadCode):
        codes.take_own_code(code=text, kind="house")


def test_many_own_codes_are_taken_all_or_none():
    with pytest.raises(AlreadyTaken, match="named twice"):
        codes.take_own_codes(codes=["A1", "A2", "A1"], kind="bench")
    codes.take_own_codes(codes=[f"B{n}" for n in range(900)], kind="bench")
    with pytest.raises(AlreadyTaken, match="B899"):
        codes.take_own_codes(codes=["C1", "B899"], kind="bench")

    assert CodeEntry.objects.count() == 900


def test_an_own_code_of_our_shape_needs_no_check_letter():
    codes.take_own_code(code="26W14-001-Z", kind="batch")

    assert not CodeEntry.objects.get().given_out_here


def test_an_unknown_code_whose_letter_does_not_fit_says_look_again():
    code = codes.give_batch_code(started_on=date(2026, 4, 1))
    wrong = code[:-1] + ("A" if code[-1] != "A" else "B")

    with pytest.raises(UnknownCode, match=r"check letter of .* does not fit: look at it again"):
        codes.find_code(wrong)


@pytest.mark.parametrize("text", ["", "   ", "nothing-like-it"])
def test_a_text_behind_which_nothing_stands_is_refused(text):
    with pytest.raises(UnknownCode):
        codes.find_code(text)


def test_a_label_address_lends_only_what_follows_its_t():
    assert codes.code_in("HTTP://NURSERY.LAN:8000/T/26W14-001-01-K") == "26W14-001-01-K"
    assert codes.code_in("https://elsewhere.example/t/A1/") == "A1"
    assert codes.code_in("https://elsewhere.example/other/A1") == (
        "https://elsewhere.example/other/A1"
    )


def test_a_code_finds_its_thing_exactly_first_and_then_whatever_its_case():
    bench, other = make.BenchFactory(code="b1"), make.HouseFactory(code="B1")

    assert codes.find_code("B1").obj == other
    assert codes.find_code(" b1 ").obj == bench
    make.TrayFactory(code="Mat-7")
    assert codes.find_code("MAT-7").code == "Mat-7"
    assert codes.find_tray("http://nursery.lan/t/mat-7").code == "Mat-7"
    with pytest.raises(UnknownCode, match="is the code of a house, not of a tray"):
        codes.find_tray("B1")


def test_two_codes_that_differ_only_in_case_are_not_guessed_between():
    make.BenchFactory(code="mist-A")
    make.BenchFactory(code="Mist-a")

    with pytest.raises(UnknownCode, match="differ only in capitals"):
        codes.find_code("MIST-A")


def test_every_kind_of_thing_is_found_as_what_it_is():
    made = {
        "taxon": make.TaxonFactory(), "source": make.SourceFactory(), "lot": make.SporeLotFactory(),
        "medium": make.MediumBatchFactory(), "house": make.HouseFactory(),
        "bench": make.BenchFactory(), "batch": make.BatchFactory(), "tray": make.TrayFactory(),
        "order": make.OrderFactory(),
    }  # fmt: skip

    found = {kind: codes.find_code(thing.code) for kind, thing in made.items()}

    assert {kind: (one.kind, one.obj) for kind, one in found.items()} == {
        kind: (kind, thing) for kind, thing in made.items()
    }


@pytest.mark.parametrize("kind", ["taxon", "house", "bench", "tray", "batch"])
def test_kinds_with_codes_of_their_own_are_given_none(kind):
    with pytest.raises(BadCode, match="of the nursery's own choosing"):
        codes.give_kind_code(kind=kind, year=2026)
