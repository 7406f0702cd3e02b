"""How does a translator's file (.po) become what gettext reads (.mo), without any other program?

The formats: GNU gettext manual, “The Format of PO Files” and “The Format of GNU MO Files”.
"""

from __future__ import annotations

import ast
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field

_MAGIC = 0x950412DE
#: between a context and its text, and between a text and its plural
_CONTEXT, _PLURAL = "\x04", "\x00"


class BadCatalogue(ValueError):
    """A line of a translator's file cannot be read."""


@dataclass(slots=True)
class _Entry:
    """One entry as it is read: its texts by keyword, whether it is marked as unsure."""

    texts: dict[str, str] = field(default_factory=dict)
    fuzzy: bool = False


def read_catalogue(text: str) -> dict[str, str]:
    """Return the translations by their keys, as a .mo file holds them; unsure ones are left out.

    A key is the English text, behind its context and a control sign where it has one; with
    plurals, both sides join their forms by a NUL.

    Raises
    ------
    BadCatalogue
        When a line is neither comment, keyword nor text, or an entry stands there twice.
    """
    found: dict[str, str] = {}
    for entry in _entries(text):
        if "msgid" not in entry.texts or entry.fuzzy:
            continue
        key = entry.texts["msgid"]
        if "msgid_plural" in entry.texts:
            key = f"{key}{_PLURAL}{entry.texts['msgid_plural']}"
        if "msgctxt" in entry.texts:
            key = f"{entry.texts['msgctxt']}{_CONTEXT}{key}"
        forms = [words for name, words in entry.texts.items() if name.startswith("msgstr")]
        if key in found:
            raise BadCatalogue(f"{entry.texts['msgid']!r} stands there twice.")
        if all(forms):
            found[key] = _PLURAL.join(forms)
    return found


def compiled(catalogue: dict[str, str]) -> bytes:
    """Return a .mo file: a sorted table of keys, one of translations, then all the texts."""
    keys = sorted(catalogue, key=lambda key: key.encode())
    pairs = [(key.encode(), catalogue[key].encode()) for key in keys]
    starts = 28 + 16 * len(pairs)
    ids = b"".join(key + b"\0" for key, _ in pairs)
    head = struct.pack("<7I", _MAGIC, 0, len(pairs), 28, 28 + 8 * len(pairs), 0, starts)
    return b"".join(
        (
            head,
            _table([key for key, _ in pairs], starts),
            _table([words for _, words in pairs], starts + len(ids)),
            ids,
            b"".join(words + b"\0" for _, words in pairs),
        )
    )


def _table(texts: list[bytes], at: int) -> bytes:
    rows = []
    for text in texts:
        rows.append(struct.pack("<2I", len(text), at))
        at += len(text) + 1
    return b"".join(rows)


def _entries(text: str) -> Iterator[_Entry]:
    entry, keyword = _Entry(), ""
    for number, line in enumerate(text.splitlines(), start=1):
        line = line.strip()
        if not line:
            continue
        begins = line.startswith(("#", "msgctxt ")) or (
            line.startswith("msgid ") and "msgid" in entry.texts
        )
        if begins and any(name.startswith("msgstr") for name in entry.texts):
            yield entry
            entry = _Entry()
        if line.startswith("#"):
            entry.fuzzy = entry.fuzzy or (line.startswith("#,") and "fuzzy" in line)
        elif line.startswith("msg"):
            keyword, _, quoted = line.partition(" ")
            entry.texts[keyword] = _unquoted(quoted, number)
        elif line.startswith('"') and keyword:
            entry.texts[keyword] += _unquoted(line, number)
        else:
            raise BadCatalogue(f"line {number} is no line of a catalogue: {line[:60]}")
    yield entry


def _unquoted(quoted: str, number: int) -> str:
    try:
        value = ast.literal_eval(quoted.strip())
    except (SyntaxError, ValueError):
        raise BadCatalogue(f"line {number} holds no text in quotation marks: {quoted}") from None
    return str(value)
