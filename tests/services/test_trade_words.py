"""Does the page of words explain every word that screens use, once?"""

from __future__ import annotations

from pathlib import Path

from django.conf import settings

from batches.core.stages import STAGE_WORDS
from batches.services.trade_words import WORD_GROUPS

WORDS = [one for group in WORD_GROUPS for one in group.words]


def test_every_stage_and_the_words_of_the_look_are_explained() -> None:
    known = {one.word for one in WORDS}
    assert set(STAGE_WORDS.values()) <= known
    # the words that docs/look.md and the pages use in a sense of their own
    assert {"look", "glance", "trouble", "stock book", "cleared", "lifted", "origin", "raised from",
            "rogue fern", "low, likely, high", "stock-take", "sciarids"} <= known  # fmt: skip


def test_a_word_stands_once_and_its_line_is_a_short_sentence() -> None:
    assert len({one.word for one in WORDS}) == len({one.anchor for one in WORDS}) == len(WORDS)
    for one in WORDS:
        assert one.text.endswith("."), one.word
        assert 15 < len(one.text) < 230, one.word


def test_every_glyph_is_drawn() -> None:
    sprite = (Path(settings.BASE_DIR) / "static" / "glyphs" / "sprite.svg").read_text()
    assert [one.glyph for one in WORDS if f'id="glyph-{one.glyph or "due"}"' not in sprite] == []
