"""How is the plant passport block of a label drawn?

Layout of Annex VII A, Regulation (EU) 2016/2031, and Implementing Regulation (EU) 2017/2313: the
flag at the top left (EU form), the title at the top right, the parts by their letters (“A.”),
everything clearly apart from other text, hence the frame. A passport is printed whole or refused.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from batches.labels.errors import LabelRefused
from batches.labels.faces import width_em
from batches.labels.fitting import LEADING, Fitted, Line, fit
from batches.labels.placing import Placed
from batches.labels.rows import Passport
from batches.labels.wording import printable

_SIZE = 6.0
_LEAST = 5.0
_PAD = 2.0
_FLAG = (12.0, 8.0)
_BETWEEN = 7.0


@dataclass(frozen=True, slots=True)
class PassportBlock:
    """Lines and shapes, in points from the block's top left corner, and the block's height."""

    lines: tuple[Placed, ...]
    shapes: bytes
    height: float


def passport_block(passport: Passport, *, width: float) -> PassportBlock:
    """Return the block on a column `width` points wide; LabelRefused when a part would be cut.

    A part that is too long for one line takes two, the title breaks behind its slash.
    """
    inner = width - 2 * _PAD
    has_flag = passport.form == "EU"
    beside = inner - (_FLAG[0] + 3 if has_flag else 0)
    lines = list(_title(passport.title, inner=beside, right=width - _PAD))
    top = _PAD + max(len(lines) * _SIZE * LEADING, _FLAG[1] + 1 if has_flag else 0)
    left = _PAD
    for letter, value in _parts(passport):
        fitted = _part(letter, value, width=inner)
        needed = max(_width(line, fitted.size) for line in fitted.lines)
        if left > _PAD and (left + needed > width - _PAD or len(fitted.lines) > 1):
            left, top = _PAD, top + _SIZE * LEADING
        for number, line in enumerate(fitted.lines):
            y = top + number * fitted.size * LEADING
            lines.append(Placed(line=line, bold=False, size=fitted.size, x=left, y=y))
        left += needed + _BETWEEN
        if len(fitted.lines) > 1:
            # What follows a broken part begins below it.
            left = width
            top += (len(fitted.lines) - 1) * fitted.size * LEADING
    height = top + _SIZE * LEADING + _PAD
    shapes = b"0.4 w 0.2 0.2 %.2f %.2f re S\n" % (width - 0.4, height - 0.4)
    if has_flag:
        shapes += _flag(_PAD, _PAD)
    return PassportBlock(lines=tuple(lines), shapes=shapes, height=height)


def _part(letter: str, value: str, *, width: float) -> Fitted:
    text, whole = printable(f"{letter}. {value}")
    for rows in (1, 2):
        fitted = fit(
            ((text, False),),
            bold=False,
            width=width,
            height=rows * _SIZE * LEADING,
            size=_SIZE,
            least=_LEAST,
        )
        if whole and not fitted.cut:
            return fitted
    raise LabelRefused(
        f"The plant passport does not fit on this label: part {letter} is too long. "
        "Take a larger label; a passport must be complete."
    )


def _width(line: Line, size: float) -> float:
    return sum(width_em(text, bold=False, italic=False) for text, _ in line) * size


def _parts(passport: Passport) -> tuple[tuple[str, str], ...]:
    letters = (("A", passport.a), ("B", passport.b), ("C", passport.c), ("D", passport.d))
    return (*letters, ("E", passport.e)) if passport.e else letters


def _title(title: str, *, inner: float, right: float) -> tuple[Placed, ...]:
    """Return the title in one line, or in two that break behind its slash, at the right edge."""
    first, slash, second = title.partition(" / ")
    for texts in ((title,), (f"{first} /", second) if slash else (title,)):
        cleaned = [printable(text) for text in texts]
        fitted = [_title_line(text, inner) for text, _ in cleaned]
        if all(whole for _, whole in cleaned) and not any(one.cut for one in fitted):
            return tuple(
                Placed(
                    line=one.lines[0],
                    bold=True,
                    size=one.size,
                    x=right - width_em(text, bold=True, italic=False) * one.size,
                    y=_PAD + number * _SIZE * LEADING,
                )
                for number, ((text, _), one) in enumerate(zip(cleaned, fitted, strict=True))
            )
    raise LabelRefused("The plant passport's title does not fit on this label. Take a larger one.")


def _title_line(text: str, inner: float) -> Fitted:
    return fit(
        ((text, False),), bold=True, width=inner, height=_SIZE * LEADING, size=_SIZE, least=_LEAST
    )


def _flag(x: float, y: float) -> bytes:
    """Return the European emblem in one colour: a ring of twelve stars in a frame (from memory)."""
    width, height = _FLAG
    parts = [b"0.3 w %.2f %.2f %.2f %.2f re S\n" % (x, y, width, height)]
    for hour in range(12):
        angle = math.tau * hour / 12
        centre_x = x + width / 2 + math.sin(angle) * height / 3
        centre_y = y + height / 2 - math.cos(angle) * height / 3
        parts.append(_star(centre_x, centre_y, height / 14))
    return b"".join(parts) + b"f\n"


def _star(x: float, y: float, radius: float) -> bytes:
    """One five-pointed star, point up (y runs down)."""
    points = []
    for corner in range(10):
        reach = radius if corner % 2 == 0 else radius * 0.382
        angle = math.tau * corner / 10
        points.append((x + math.sin(angle) * reach, y - math.cos(angle) * reach))
    first, *rest = points
    path = b"%.3f %.3f m " % first
    return path + b" ".join(b"%.3f %.3f l" % point for point in rest) + b" h\n"
