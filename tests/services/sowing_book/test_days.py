"""Is a day read as the book means it, and never as another one?"""

from __future__ import annotations

from datetime import date

import pytest

from batches.services.records_io.cells import BadCell
from batches.services.sowing_book.days import book_day


@pytest.mark.parametrize(
    "text", ["2024-02-03", "3.2.24", "03/02/2024", "3 Feb 2024", "3. February 24", "3-2-2024"]
)
def test_ways_to_write_a_day(text: str) -> None:
    assert book_day(text, day_first=True) == date(2024, 2, 3)


@pytest.mark.parametrize(
    ("text", "month"),
    [("3. März 2024", 3), ("3. Mai 24", 5), ("3 Okt. 2024", 10), ("3. Dez 24", 12)],
)
def test_german_months_are_read(text: str, month: int) -> None:
    assert book_day(text, day_first=False) == date(2024, month, 3)


def test_a_day_that_may_be_two_is_refused_unless_day_first_was_said() -> None:
    assert book_day("5/5/2024", day_first=False) == date(2024, 5, 5)
    with pytest.raises(BadCell, match="day first"):
        book_day("3/2/2024", day_first=False)


@pytest.mark.parametrize("text", ["31.2.24", "spring", "12", "2024", "3 Foo 2024", "2024-13-01"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(BadCell):
        book_day(text, day_first=True)
