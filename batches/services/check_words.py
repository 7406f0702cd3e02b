"""Are the words and numbers of a look ones that the records know?"""

from __future__ import annotations

from collections.abc import Iterable

from batches.core.errors import NotUnderstood
from batches.core.signs import Sign
from batches.core.stages import Stage

MOST_PLANTS = 1_000_000


def known_stage(word: str) -> str:
    """Return the stage as the records name it, empty for none, else raise `NotUnderstood`."""
    if word and word not in set(Stage):
        raise NotUnderstood(f"“{word[:40]}” is no stage the records know.", field="stage_seen")
    return word


def known_count(count: int | None, *, about: bool) -> int | None:
    """Return the count, None for none; “about” needs one."""
    if count is None:
        if about:
            raise NotUnderstood("“About” needs a number beside it.", field="count")
        return None
    if not 0 <= count <= MOST_PLANTS:
        raise NotUnderstood(
            f"A count is a whole number from 0 to {MOST_PLANTS:,}. Nothing was stored.",
            field="count",
        )
    return count


def known_signs(words: Iterable[str]) -> str:
    """Return the signs in the order of the records, each once."""
    wanted = set(words)
    unknown = sorted(wanted - set(Sign))
    if unknown:
        raise NotUnderstood(
            f"“{unknown[0][:40]}” is no trouble the records know. Nothing was stored; choose from "
            "the list, or write it as a note.",
            field="signs",
        )
    return " ".join(sign for sign in Sign if sign in wanted)
