"""Are two words for the size of a pot the same size?"""

from __future__ import annotations


def size_key(words: str) -> str:
    """Return the size as it is compared: “9 cm”, “9cm” and “9 CM” are one; empty stays empty."""
    return "".join(words.casefold().split())
