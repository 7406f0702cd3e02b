"""Has every trouble and cause a word on screens, and is a sign of health none of them?"""

from __future__ import annotations

from batches.core.signs import CAUSE_WORDS, CAUSES, PRESSING_SIGNS, SIGN_WORDS, TROUBLES, Sign


def test_every_sign_and_cause_has_a_word_on_screens():
    assert set(SIGN_WORDS) == set(Sign)
    assert set(CAUSE_WORDS) == set(CAUSES)
    assert not [word for word in (*SIGN_WORDS.values(), *CAUSE_WORDS.values()) if "_" in word]


def test_heart_shapes_are_no_trouble_and_nothing_is_lost_by_them():
    assert "heart_shapes" not in CAUSES
    assert Sign.HEART_SHAPES not in TROUBLES
    assert PRESSING_SIGNS < TROUBLES
    assert {"mould", "no_germination", "surplus", "unknown"} <= set(CAUSES)
