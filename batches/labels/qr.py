"""Which QR symbol holds an address within a given square, and what path draws it?

Vector only, a fixed mask, a quiet zone of four modules and modules of whole printer dots: at 203
dpi (8 dots a millimetre) four dots make the 0.50 mm that a phone and a worn print head want, three
dots (0.375 mm) are the least that is offered. Sizes of symbols: ISO/IEC 18004.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from urllib.parse import urlsplit

from batches.labels.errors import LabelRefused

DOT_MM = 0.125
"""One dot of a 203 dpi print head."""
QUIET = 4
"""Blank modules on each side of the symbol."""
GOOD_DOTS = 4
LEAST_DOTS = 3

# Every reader reads every mask (its number is in the symbol); a fixed one saves scoring all eight.
_MASK = 3

# Data codewords of versions 1 to 9 at levels M and L (ISO/IEC 18004, table 7).
_CODEWORDS = {
    "M": (16, 28, 44, 64, 86, 108, 124, 154, 182),
    "L": (19, 34, 55, 80, 108, 136, 156, 194, 232),
}
_ALPHANUMERIC = re.compile(r"[0-9A-Z $%*+\-./:]+")

Segment = tuple[str, str]
"""Text and its mode, "byte" or "alphanumeric"."""


@dataclass(frozen=True, slots=True)
class QrPlan:
    """How one address will be written: its segments, version (1 to 9), level and module size."""

    segments: tuple[Segment, ...]
    version: int
    level: str
    dots: int

    @property
    def modules(self) -> int:
        """Modules along one side, without the quiet zone."""
        return 17 + 4 * self.version

    @property
    def module_mm(self) -> float:
        """Side of one module in mm."""
        return self.dots * DOT_MM

    @property
    def side_mm(self) -> float:
        """Side of the whole square in mm, quiet zone included."""
        return (self.modules + 2 * QUIET) * self.module_mm


def plan_qr(url: str, *, wished_mm: float, most_mm: float) -> QrPlan:
    """Return the best symbol for `url`: large within `wished_mm`, good within `most_mm`.

    The address is written as it is where that leaves modules of 0.50 mm; then with its scheme and
    host in capitals (they mean the same, RFC 3986 6.2.2.1, and take less room), then with less
    error correction, and only then with modules of 0.375 mm. LabelRefused when nothing fits.
    """
    for least in (GOOD_DOTS, LEAST_DOTS):
        for segments, level in _ways(url):
            version = _version_for(segments, level)
            if version is None:
                continue
            modules = 17 + 4 * version + 2 * QUIET
            if modules * least * DOT_MM > most_mm + 1e-9:
                continue
            dots = max(least, int(wished_mm / (modules * DOT_MM) + 1e-9))
            return QrPlan(segments=segments, version=version, level=level, dots=dots)
    raise LabelRefused(
        f"The QR for {url} does not fit on this label ({most_mm:.1f} mm are free for it). "
        "Take a larger label, or a shorter address for this computer."
    )


def _ways(url: str) -> Iterator[tuple[tuple[Segment, ...], str]]:
    plain: tuple[Segment, ...] = ((url, "byte"),)
    capitals = _in_capitals(url)
    yield plain, "M"
    yield capitals, "M"
    yield capitals, "L"


def _in_capitals(url: str) -> tuple[Segment, ...]:
    """Return the address with scheme and host in capitals, alphanumeric as far as that goes."""
    parts = urlsplit(url)
    head = f"{parts.scheme}://{parts.netloc}/".upper()
    tail = url[len(head) :]
    if not _ALPHANUMERIC.fullmatch(head) or not tail.startswith("t/"):
        return ((url, "byte"),)
    code = tail.removeprefix("t/")
    if _ALPHANUMERIC.fullmatch(code):
        return ((head, "alphanumeric"), ("t", "byte"), (f"/{code}", "alphanumeric"))
    return ((head, "alphanumeric"), (tail, "byte"))


def _bits(segments: Sequence[Segment]) -> int:
    """Length in bits for versions 1 to 9: mode, count and data of each segment."""
    total = 0
    for text, mode in segments:
        size = len(text)
        if mode == "byte":
            total += 4 + 8 + 8 * size
        else:
            total += 4 + 9 + 11 * (size // 2) + 6 * (size % 2)
    return total


def _version_for(segments: Sequence[Segment], level: str) -> int | None:
    """Smallest version from 1 to 9 that holds the segments; None when none does."""
    bits = _bits(segments)
    for version, codewords in enumerate(_CODEWORDS[level], start=1):
        if bits <= 8 * codewords:
            return version
    return None


@lru_cache(maxsize=2048)
def matrix(segments: tuple[Segment, ...], version: int, level: str) -> tuple[bytes, ...]:
    """Return the symbol as rows of bytes, 1 = dark, without quiet zone."""
    import segno

    # Handed over as texts, segno finds the mode of each, which is the one written beside it. It
    # takes a list (its encoder says so), though its own type hint does not.
    content: Any = [text for text, _ in segments]
    symbol = segno.make(
        content,
        version=version,
        error=level,
        mask=_MASK,
        micro=False,
        boost_error=True,
    )
    return tuple(bytes(row) for row in symbol.matrix)


_LIGHT = re.compile(rb"\x00+")


def light_runs(rows: Sequence[bytes]) -> Iterator[tuple[int, int, int]]:
    """Return each run of light modules as (column, row, length), row by row."""
    for y, row in enumerate(rows):
        for run in _LIGHT.finditer(row):
            x, end = run.span()
            yield x, y, end - x
