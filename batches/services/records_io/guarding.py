"""How is a text written that a spreadsheet would run or trim, and read back exactly?

Text that begins like a formula is written behind an apostrophe, text with white space at an end
between two; reading takes exactly those away again. What already looks guarded is guarded once
more, so that `unguarded` is the exact inverse of `guarded` for every text.
"""

from __future__ import annotations

#: first characters at which a spreadsheet takes a cell for a formula (OWASP, “CSV Injection”,
#: with the full-width forms); tab and carriage return, which belong to them, are white space
_RUN = frozenset("=+-@＝＋－＠")
_QUOTE = "'"
#: the most characters that guarding adds
ADDED = 2


def _is_run(text: str) -> bool:
    return text.lstrip(_QUOTE)[:1] in _RUN


def _is_trimmed(text: str) -> bool:
    bare = text.strip(_QUOTE)
    return text != text.strip() or bare != bare.strip()


def guarded(text: str) -> str:
    """Return the text as it is written into a cell."""
    if _is_trimmed(text):
        return f"{_QUOTE}{text}{_QUOTE}"
    return _QUOTE + text if _is_run(text) else text


def unguarded(cell: str) -> str:
    """Return the text of a cell, white space round it trimmed."""
    cell = cell.strip()
    if not cell.startswith(_QUOTE):
        return cell
    if len(cell) > 1 and cell.endswith(_QUOTE) and _is_trimmed(cell[1:-1]):
        return cell[1:-1]
    return cell[1:] if _is_run(cell[1:]) else cell
