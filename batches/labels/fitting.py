"""At which size, and broken where, does a text fit into a space?

A text that is too long shrinks, then wraps into more lines, and only when it is still too long at
the least legible size does it end in a visible "…", which the caller is told of. Widths and heights
are points.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from batches.labels.faces import width_em
from batches.labels.rows import Runs

LEADING = 1.15
"""Height of a line in type sizes."""
STEP = 0.25
"""Sizes go in quarter points."""
ELLIPSIS = "…"

_STUCK = "\u00a0"
# What is read as one, "30 Mar 2026" and "(wk 14)", stays together.
_DATE = re.compile(r"(?<=\d) (?=\w{3} \d{4}\b)|(?<=[^\W\d_]) (?=\d{4}\b)")
_WEEK = re.compile(r"\(\w{2} \d{1,2}\)")
# A name breaks best before its cultivar, its Group, a rank or the second parent; "ex" stays with
# what follows it.
_PART = re.compile(r"['‘(×]|(?:subsp\.|var\.|f\.|ex)$")
_TIED = "ex"
# How much smaller a text may be set for the sake of breaking well.
_CLEAN_SHARE = 0.75

Word = tuple[tuple[str, bool], ...]
Line = Runs


@dataclass(frozen=True, slots=True)
class Fitted:
    """A text broken into lines at one size (points); `cut` when it ends in an ellipsis."""

    lines: tuple[Line, ...]
    size: float
    cut: bool

    @property
    def height(self) -> float:
        """Height in points."""
        return len(self.lines) * self.size * LEADING


@lru_cache(maxsize=8192)
def fit(
    runs: Runs,
    *,
    bold: bool,
    width: float,
    height: float,
    size: float,
    least: float,
    prose: bool = False,
) -> Fitted:
    """Return `runs` at the largest size from `size` to `least` that fits into width × height.

    What is not `prose` is set a little smaller where that lets it break only between its parts.
    """
    clean = 1.0 if prose else _CLEAN_SHARE
    best = _largest(
        runs, bold=bold, width=width, height=height, sizes=tuple(_sizes(size, least)), clean=clean
    )
    if best:
        return best
    room = max(1, int(height / (least * LEADING) + 1e-6))
    lines = wrap(runs, bold=bold, width=width / least, most=10_000, breaking=True)
    if len(lines) <= room:
        return Fitted(lines=lines, size=least, cut=False)
    kept = (*lines[: room - 1], _ended(lines[room - 1], bold=bold, width=width / least))
    return Fitted(lines=kept, size=least, cut=True)


def _largest(
    runs: Runs, *, bold: bool, width: float, height: float, sizes: Sequence[float], clean: float
) -> Fitted | None:
    """Return the text uncut, down to `clean` of its size if it then breaks between parts only."""
    best: Fitted | None = None
    for breaking in (False, True):
        for points in sizes:
            if best and points < clean * best.size:
                return best
            room = int(height / (points * LEADING) + 1e-6)
            lines = wrap(runs, bold=bold, width=width / points, most=room, breaking=breaking)
            if not lines:
                continue
            if len(lines) == 1 or lines == _part_lines(runs):
                return Fitted(lines=lines, size=points, cut=False)
            best = best or Fitted(lines=lines, size=points, cut=False)
        if best:
            return best
    return None


def _sizes(size: float, least: float) -> Iterator[float]:
    points = size
    while points > least:
        yield points
        points -= STEP
    yield least


def wrap(runs: Runs, *, bold: bool, width: float, most: int, breaking: bool) -> tuple[Line, ...]:
    """Return `runs` in at most `most` lines no wider than `width` em; empty when that cannot be.

    Only with `breaking` are words parted that are wider than a line.
    """
    words = _words(runs)
    if not words or most < 1:
        return ()
    if _width(_joined(words), bold=bold) <= width:
        return (_joined(words),)
    parts = _part_lines(runs)
    if 1 < len(parts) <= most and all(_width(part, bold=bold) <= width for part in parts):
        return parts
    lines: list[Line] = []
    current: list[Word] = []
    for word in _narrowed(words, bold=bold, width=width) if breaking else words:
        if current and _width(_joined([*current, word]), bold=bold) > width:
            lines.append(_joined(current))
            current = []
        if not breaking and _width(word, bold=bold) > width:
            return ()
        if len(lines) >= most:
            return ()
        current.append(word)
    lines.append(_joined(current))
    return tuple(lines) if len(lines) <= most else ()


def _words(runs: Runs) -> list[Word]:
    """Return the words, each in pieces of one style: a word may be part italic, part upright."""
    words: list[list[tuple[str, bool]]] = [[]]
    for text, italic in runs:
        first, *rest = _stuck_together(text).split(" ")
        if first:
            words[-1].append((first, italic))
        words.extend([(piece, italic)] if piece else [] for piece in rest)
    return [tuple(word) for word in words if word]


def _stuck_together(text: str) -> str:
    text = _WEEK.sub(lambda found: found[0].replace(" ", _STUCK), text)
    return _DATE.sub(_STUCK, text)


def _joined(words: Sequence[Word]) -> Line:
    """Return the words in one line: single spaces between, neighbours of one style in one run."""
    runs: list[tuple[str, bool]] = []
    for number, word in enumerate(words):
        for place, (text, italic) in enumerate(word):
            lead = " " if number and not place else ""
            if runs and runs[-1][1] == italic:
                runs[-1] = (f"{runs[-1][0]}{lead}{text}", italic)
            elif runs and lead:
                runs[-1] = (f"{runs[-1][0]}{lead}", runs[-1][1])
                runs.append((text, italic))
            else:
                runs.append((text, italic))
    return tuple((text.replace(_STUCK, " "), italic) for text, italic in runs)


def _parts(words: Sequence[Word]) -> list[list[Word]]:
    """Return the words grouped before a cultivar, a bracket, a rank or a hybrid's second parent."""
    groups: list[list[Word]] = [[]]
    for word in words:
        tied = groups[-1] and groups[-1][-1][0][0] == _TIED
        if groups[-1] and _PART.match(word[0][0]) and not tied:
            groups.append([])
        groups[-1].append(word)
    return groups


def _part_lines(runs: Runs) -> tuple[Line, ...]:
    return tuple(_joined(part) for part in _parts(_words(runs)))


def _width(runs: Sequence[tuple[str, bool]], *, bold: bool) -> float:
    return sum(width_em(text, bold=bold, italic=italic) for text, italic in runs)


def _narrowed(words: Sequence[Word], *, bold: bool, width: float) -> Iterator[Word]:
    """Return the words, those wider than a line in pieces (of one character at the least)."""
    for word in words:
        if _width(word, bold=bold) <= width:
            yield word
            continue
        piece: list[tuple[str, bool]] = []
        for text, italic in word:
            for character in text:
                if piece and _width([*piece, (character, italic)], bold=bold) > width:
                    yield tuple(piece)
                    piece = []
                if piece and piece[-1][1] == italic:
                    piece[-1] = (piece[-1][0] + character, italic)
                else:
                    piece.append((character, italic))
        yield tuple(piece)


def _ended(line: Line, *, bold: bool, width: float) -> Line:
    """Return the line with a visible end, shortened until that fits."""
    runs = list(line)
    while runs:
        text, italic = runs[-1]
        text = text.rstrip(f" {ELLIPSIS}")
        ended = [*runs[:-1], (f"{text}{ELLIPSIS}", italic)]
        if _width(ended, bold=bold) <= width:
            return tuple(ended)
        if len(text) > 1:
            runs[-1] = (text[:-1], italic)
        else:
            runs.pop()
    return ((ELLIPSIS, False),)
