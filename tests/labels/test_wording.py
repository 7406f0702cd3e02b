"""What becomes of characters that cannot stand on a label?"""

from __future__ import annotations

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from batches.labels.wording import LONGEST, STAND_IN, printable


def test_names_of_ferns_are_left_as_they_are() -> None:
    for text in (
        "Polystichum ×dycei",
        "'Crispum Nobile'",
        "Dryopteris affinis subsp. affinis",
        "£€·½²",
    ):
        assert printable(text) == (text, True)


def test_a_picture_becomes_a_visible_sign_and_is_told() -> None:
    assert printable("Fern 🌿!") == (f"Fern {STAND_IN}!", False)


def test_marks_that_turn_writing_round_are_dropped() -> None:
    assert printable("A\u202eB\u2066C\u200fD") == ("ABCD", True)
    assert printable("a\x00b\x1bc") == ("abc", True)


def test_line_ends_and_tabs_become_a_space() -> None:
    assert printable("a\r\n\tb\u00a0c") == ("a b c", True)


def test_letters_of_other_scripts_stay() -> None:
    assert printable("Щитовник")[0] == "Щитовник"
    assert printable("שרך")[0] == "שרך"


def test_one_sign_that_stands_for_a_whole_phrase_is_spelt_out() -> None:
    # U+FDFA is one character and eighteen letters wide (Unicode's compatibility decomposition).
    assert len(printable("\ufdfa")[0]) == 18


def test_parted_accents_are_joined() -> None:
    assert printable("e\u0301")[0] == "é"


def test_a_text_that_never_ends_is_ended_visibly() -> None:
    text, whole = printable("x" * 10_000)
    assert len(text) == LONGEST + 1
    assert text.endswith("…")
    assert not whole


@given(st.text(max_size=60))
def test_nothing_unprintable_comes_through(text: str) -> None:
    kept, _ = printable(text)
    assert not [one for one in kept if unicodedata.category(one) in {"Cc", "Cf", "Cs", "Cn", "Co"}]
    assert "\n" not in kept
