"""Are given-out codes readable, and is a mistyped one refused?"""

from __future__ import annotations

import random
from datetime import date

import pytest

from batches.core.codes import (
    CHECK_LETTERS,
    BadCode,
    batch_code,
    check_letter,
    kind_code,
    read_code,
    require_own_code,
    tray_code,
)


def all_codes():
    chance = random.Random(26)
    for _ in range(60):
        batch = batch_code(date(2026, 1, 1), chance.randint(1, 999))
        yield batch
        yield tray_code(batch, chance.randint(1, 99))
        yield kind_code(
            chance.choice(["lot", "medium", "source", "order"]), 2026, chance.randint(1, 999)
        )


def test_a_code_names_the_iso_week_year_and_the_serial():
    # 1 Jan 2027 lies in week 53 of 2026: the week's year, not the calendar's.
    assert batch_code(date(2027, 1, 1), 7).startswith("26W53-007-")
    assert tray_code(batch_code(date(2027, 1, 1), 7), 5).startswith("26W53-007-05-")


def test_no_letter_that_looks_like_a_digit_is_given_out():
    assert not set("IOQ") & set(CHECK_LETTERS)
    assert not any(set(code) & set("IOQ") for code in all_codes())


def test_every_single_wrong_digit_is_found():
    for code in all_codes():
        body, _, letter = code.rpartition("-")
        for place, symbol in enumerate(body):
            if symbol.isdigit():
                for other in "0123456789".replace(symbol, ""):
                    wrong = body[:place] + other + body[place + 1 :]
                    assert check_letter(wrong) != letter


def test_every_swap_of_two_different_digits_is_found():
    for code in all_codes():
        body, _, letter = code.rpartition("-")
        digits = [place for place, symbol in enumerate(body) if symbol.isdigit()]
        for first in digits:
            for second in digits:
                if body[first] != body[second]:
                    swapped = list(body)
                    swapped[first], swapped[second] = swapped[second], swapped[first]
                    assert check_letter("".join(swapped)) != letter


def test_a_second_way_of_summing_gives_the_same_letter():
    values = {symbol: place for place, symbol in enumerate("0123456789WLMPRTV")}
    for code in all_codes():
        body, _, letter = code.rpartition("-")
        symbols = body.replace("-", "")
        total = sum(pow(5, place + 1, 23) * values[s] for place, s in enumerate(symbols)) % 23
        assert "ABCDEFGHJKLMNPRSTUVWXYZ"[total] == letter


def test_a_reading_tells_shape_and_fit_whatever_the_case():
    batch = batch_code(date(2026, 3, 30), 73)
    assert (read_code(f" {batch.lower()} ").shape, read_code(batch).fits) == ("batch", True)
    wrong = batch[:-1] + ("A" if batch[-1] != "A" else "B")
    assert (read_code(wrong).shape, read_code(wrong).fits) == ("batch", False)
    assert read_code(tray_code(batch, 3)).shape == "tray"
    assert read_code(kind_code("lot", 2026, 4)).shape == "lot"
    assert (read_code("FERN-7.b").shape, read_code("FERN-7.b").fits) == ("", True)


@pytest.mark.parametrize("text", ["a", "A1", "26W14-DRYFM-03", "x" * 32, "a.b_c-d"])
def test_a_nurserys_own_code_is_kept_as_it_is(text):
    assert require_own_code(text) == text


@pytest.mark.parametrize("text", ["", "-a", "a-", "a b", "ä", "x" * 33, "a/b", "a\n"])
def test_what_cannot_be_a_code_is_refused_in_words(text):
    with pytest.raises(BadCode, match="cannot be a code"):
        require_own_code(text)


def test_numbers_out_of_range_are_refused():
    batch = batch_code(date(2026, 3, 30), 73)
    for number in (0, 1000):
        with pytest.raises(BadCode):
            tray_code(batch, number)
    with pytest.raises(BadCode, match="own code"):
        tray_code("MYBATCH", 1)
