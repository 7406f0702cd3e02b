"""Does the stock book balance?"""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.core.errors import LedgerDoesNotBalance
from batches.core.ledger import Change, Posting, balance, in_unit, require_balance

DAY = date(2026, 6, 1)


def posting(kind: str, quantity: int, day: int = 1, *, arrived: bool = False) -> Posting:
    return Posting(
        on=date(2026, 6, day), kind=Change(kind), quantity=quantity, arrived_here=arrived
    )


def test_an_empty_book_is_uncounted_and_holds_nothing():
    empty = balance([])
    assert (empty.alive, empty.counted) == (0, False)


def test_in_plus_moved_in_plus_recounts_equals_alive_plus_all_that_left():
    book = balance([
        posting("in", 100), posting("out", 20, arrived=True), posting("recount", -3, 2),
        posting("loss", 7, 3), posting("out", 40, 4), posting("dispatch", 10, 5),
    ])  # fmt: skip
    assert book.alive == 60
    assert book.counted_in + book.moved_in + book.recount == (
        book.alive + book.lost + book.moved_out + book.dispatched
    )


def test_an_uncounted_mat_gives_patches_away():
    book = require_balance([posting("out", 84)], tray="MAT")
    assert (book.counted, book.moved_out) == (False, 84)


def test_more_out_than_in_names_the_day_and_the_shortfall():
    rows = [posting("in", 10, 1), posting("loss", 12, 3), posting("in", 5, 4)]
    with pytest.raises(LedgerDoesNotBalance, match=r"-2 on 2026-06-03: 2 more"):
        require_balance(rows, tray="T1")


def test_rows_of_one_day_are_judged_together():
    assert require_balance([posting("loss", 4), posting("in", 10)], tray="T1").alive == 6


changes = st.tuples(
    st.sampled_from(["in", "loss", "out", "dispatch", "recount", "arrived"]),
    st.integers(1, 50),
    st.integers(1, 28),
)


@given(st.lists(changes, max_size=30))
def test_against_a_naive_count_of_plants_one_by_one(rows):
    postings = [
        posting("out" if kind == "arrived" else kind, number, day, arrived=kind == "arrived")
        for kind, number, day in rows
    ]
    naive = 0
    for kind, number, _ in rows:
        step = 1 if kind in ("in", "recount", "arrived") else -1
        for _ in range(number):
            naive += step
    assert balance(postings).alive == naive


def test_a_count_of_one_is_said_of_one() -> None:
    assert [in_unit(number, "patches") for number in (0, 1, 2)] == [
        "0 patches", "1 patch", "2 patches",
    ]  # fmt: skip
    assert (in_unit(1, "pots"), in_unit(84, "plants")) == ("1 pot", "84 plants")
    assert in_unit(1, "cells") == "1 cells"
