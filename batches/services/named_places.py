"""Which houses, benches and trays does a text name?"""

from __future__ import annotations

from batches.core.errors import NotUnderstood, UnknownCode
from batches.services.codes import a_noun, find_code

PLACE_KINDS = frozenset({"house", "bench", "tray"})


def places_named(text: str, *, field: str = "place_or_trays") -> str:
    """Return the codes in a text as the records write them: as stored, spaces between, once each.

    Codes may stand behind commas, semicolons, spaces or line ends, in any case.

    Raises
    ------
    NotUnderstood
        When none is named, or a code is of something that no one can stand before.
    UnknownCode
        When nothing carries a code.
    """
    words = text.replace(",", " ").replace(";", " ").split()
    if not words:
        raise NotUnderstood(
            "Say where: codes of houses, benches or trays. Nothing was stored.", field=field
        )
    codes: list[str] = []
    for word in words:
        try:
            found = find_code(word)
        except UnknownCode as error:
            raise UnknownCode(f"{error.message} Nothing was stored.", field=field) from None
        if found.kind not in PLACE_KINDS:
            raise NotUnderstood(
                f"{found.code} is the code of {a_noun(found.kind)}; name houses, benches or "
                "trays. Nothing was stored.",
                field=field,
            )
        if found.code not in codes:
            codes.append(found.code)
    return " ".join(codes)
