"""Has the passport block the parts of its form, where the regulation wants them?"""

from __future__ import annotations

import pytest

from batches.labels.errors import LabelRefused
from batches.labels.passport import passport_block
from tests.labels.examples import passport

WIDTH = 110.0


def words(form: str, **parts: str) -> list[str]:
    block = passport_block(passport(form, **parts), width=WIDTH)
    return ["".join(text for text, _ in one.line) for one in block.lines]


def test_the_title_stands_at_the_top_right() -> None:
    # Regulation (EU) 2016/2031, Annex VII A: the title in the top right corner, the flag top left.
    block = passport_block(passport("EU"), width=WIDTH)
    title, *parts = block.lines
    assert "Plant Passport" in title.line[0][0]
    assert title.y == min(one.y for one in block.lines)
    assert title.x > min(one.x for one in parts)


def test_only_the_eu_form_bears_the_flag() -> None:
    # Twelve stars of ten corners each; the GB form leaves the flag out (GB plant health rules).
    stars = passport_block(passport("EU"), width=WIDTH).shapes.count(b" h\n")
    assert stars == 12
    assert passport_block(passport("GB"), width=WIDTH).shapes.count(b" h\n") == 0


def test_parts_carry_their_letters_and_e_only_where_given() -> None:
    letters = [line.split()[0] for line in words("EU")[1:]]
    assert letters == ["A.", "B.", "C.", "D."]
    letters = [line.split()[0] for line in words("GB", e="GB(NI)")[1:]]
    assert letters == ["A.", "B.", "C.", "D.", "E."]


def test_lines_stay_inside_the_frame() -> None:
    block = passport_block(passport("EU"), width=WIDTH)
    assert all(0 < one.x < WIDTH for one in block.lines)
    assert all(0 < one.y + one.size <= block.height for one in block.lines)


@pytest.mark.parametrize("change", [{"a": "x" * 80}, {"title": "t" * 60}, {"b": "🌿"}])
def test_a_passport_that_would_lose_a_letter_is_refused(change: dict[str, str]) -> None:
    with pytest.raises(LabelRefused):
        passport_block(passport("EU", **change), width=WIDTH)
