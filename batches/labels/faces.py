"""How wide will a text be in the label font, and which characters can the font draw?

The font is Atkinson Hyperlegible out of its installed package. Widths are its advance widths in
units of the type size, so a width in points is width_em × size.
"""

from __future__ import annotations

import base64
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from pathlib import Path

FAMILY = "Atkinson Hyperlegible"

# Kerning moves a line by less than this either way; the wrap must never be too hopeful.
_KERNING_ROOM = 1.01
# Characters that the font lacks come from whatever font the computer has: wide on purpose.
_WIDE_EM = 1.4
_OTHER_EM = 1.15

_STYLES = tuple((bold, italic) for bold in (False, True) for italic in (False, True))


@dataclass(frozen=True, slots=True)
class Face:
    """One cut of the font: where its file is and how wide each character runs (in em)."""

    path: Path
    advances: dict[int, float]


@cache
def face(*, bold: bool, italic: bool) -> Face:
    """Return the cut of the font; reads the file once."""
    import fontpkg
    from fontTools.ttLib import TTFont

    style = "italic" if italic else "normal"
    path = Path(fontpkg.path(FAMILY, 700 if bold else 400, style))
    with TTFont(path, lazy=True) as font:
        em = font["head"].unitsPerEm
        widths = font["hmtx"].metrics
        advances = {code: widths[glyph][0] / em for code, glyph in font.getBestCmap().items()}
    return Face(path=path, advances=advances)


def covered(character: str) -> bool:
    """Whether the label font draws this character itself."""
    return ord(character) in face(bold=False, italic=False).advances


@lru_cache(maxsize=8192)
def width_em(text: str, *, bold: bool, italic: bool) -> float:
    """Width of `text` in em; never less than what will be printed."""
    advances = face(bold=bold, italic=italic).advances
    total = 0.0
    for character in text:
        known = advances.get(ord(character))
        total += _foreign_em(character) if known is None else known
    return total * _KERNING_ROOM


def _foreign_em(character: str) -> float:
    if unicodedata.category(character) in {"Mn", "Me"}:
        return 0.0
    return _WIDE_EM if unicodedata.east_asian_width(character) in "WF" else _OTHER_EM


@cache
def font_face_css() -> str:
    """Return the four @font-face rules, the font files inside them as data: URIs."""
    rules = []
    for bold, italic in _STYLES:
        data = base64.b64encode(face(bold=bold, italic=italic).path.read_bytes()).decode("ascii")
        rules.append(
            f"@font-face{{font-family:'{FAMILY}';font-weight:{700 if bold else 400};"
            f"font-style:{'italic' if italic else 'normal'};src:url(data:font/ttf;base64,{data})}}"
        )
    return "\n".join(rules)
