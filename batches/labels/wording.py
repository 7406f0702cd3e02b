"""Which characters of a text can stand on a label?

Names come from people and from files, so anything may be in them. What has no shape (control
characters, marks that turn the writing direction round) is dropped; pictures and unassigned
characters become a visible ◊, and the print says so. Letters of any script stay.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

from batches.labels.faces import covered

STAND_IN = "◊"
LONGEST = 400
"""Characters kept of one text; more than any label holds."""

_SPACE = re.compile(r"\s+")
_DROPPED = {"Cc", "Cf", "Cs"}
_PICTURES = {"So", "Sk", "Cn", "Co"}
_VARIATION_SELECTORS = range(0xFE00, 0xFE10)


@lru_cache(maxsize=8192)
def printable(text: str) -> tuple[str, bool]:
    """Return the text as it can be printed, and whether a character had to be replaced or left off.

    Space at the ends is kept (runs of a name are joined), inner white space becomes one space.
    """
    whole = len(text) <= LONGEST
    kept = []
    for character in _SPACE.sub(" ", unicodedata.normalize("NFC", text[:LONGEST])):
        kind = unicodedata.category(character)
        if kind in _DROPPED or ord(character) in _VARIATION_SELECTORS:
            continue
        if covered(character):
            kept.append(character)
            continue
        plain = unicodedata.normalize("NFKC", character)
        if plain != character and all(covered(one) for one in plain):
            kept.append(plain)
        elif kind in _PICTURES:
            kept.append(STAND_IN)
            whole = False
        else:
            kept.append(plain)
    if len(text) > LONGEST:
        kept.append("…")
    return "".join(kept), whole
