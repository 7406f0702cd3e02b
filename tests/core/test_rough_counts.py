"""Do gaps, rows and eighths come to what one would reckon on paper?"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from batches.core.errors import NotUnderstood
from batches.core.rough_counts import by_eighths, by_rows, full_less_gaps


def test_a_full_tray_less_its_gaps():
    assert full_less_gaps(cells=84, gaps=0) == 84
    assert full_less_gaps(cells=84, gaps=11) == 73
    for gaps in (-1, 85):
        with pytest.raises(NotUnderstood, match="0 to 84 gaps"):
            full_less_gaps(cells=84, gaps=gaps)


def test_rows_and_what_stands_over():
    assert by_rows(rows=7, per_row=12) == 84
    assert by_rows(rows=6, per_row=12, more=5) == 77
    with pytest.raises(NotUnderstood):
        by_rows(rows=-1, per_row=12)


@given(cells=st.integers(1, 2000), eighths=st.integers(0, 8))
def test_eighths_are_the_nearest_whole_number(cells: int, eighths: int):
    found = by_eighths(eighths=eighths, cells=cells)
    assert abs(found - Fraction(eighths * cells, 8)) <= Fraction(1, 2)
    assert by_eighths(eighths=8, cells=cells) == cells


def test_a_ninth_eighth_is_refused():
    with pytest.raises(NotUnderstood, match="eight eighths"):
        by_eighths(eighths=9, cells=84)
