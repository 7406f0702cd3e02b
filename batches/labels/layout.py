"""How is one label laid out on one stock?

Type sizes belong to the stock: a specimen of ordinary length sets them once, so that the labels of
a sheet look alike, and only a text that is longer than ordinary shrinks and wraps on its own label.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from batches.labels.designs import NAME, Slot, specimens, texts
from batches.labels.errors import LabelRefused
from batches.labels.fitting import LEADING, STEP, Fitted, fit, wrap
from batches.labels.passport import passport_block
from batches.labels.placing import POINTS_PER_MM, Frame, Placed, frame_for, plan_for
from batches.labels.qr import QrPlan
from batches.labels.rows import Kind, LabelRow, Runs
from batches.labels.stocks import Stock
from batches.labels.wording import printable

# Above a first capital a line box holds this much air (type sizes); it is given back to the label.
_AIR_ABOVE = 0.2
# Points between the words and a plant passport, which must be apart from other text.
_APART = 2.0
# A column this many times as high as wide is narrow, and very narrow.
_NARROW = (1.2, 1.6)
_MOST_EXTRA_LINES = 3
# How far the other texts shrink, step by step, for a name that would be cut.
_SQUEEZES = (1.0, 0.85, 0.7, 0.0)
# What is left off, in this order, where a name would be cut otherwise.
_GIVE_WAY = ("extra line", "care line", "common name")
_SCALES = tuple(scale / 20 for scale in range(52, 6, -1))

_Sizes = Mapping[tuple[str, int], tuple[float, float]]
"""Size and height in points by field and how-manieth text of it."""


@dataclass(frozen=True, slots=True)
class Laid:
    """One label, ready to draw: its QR, its lines in points from the label's top left, shapes.

    `notes` says in words what could not be printed as given; empty when all could.
    """

    plan: QrPlan
    frame: Frame
    lines: tuple[Placed, ...]
    shapes: bytes
    shapes_at: tuple[float, float]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Piece:
    """A slot with its text, the size and the height (points) it was given."""

    slot: Slot
    runs: Runs
    size: float
    height: float


@dataclass(frozen=True, slots=True)
class Manner:
    """What the labels of one print share: the stock, a specimen a kind, the column in mm."""

    stock: Stock
    ordinary: Mapping[Kind, LabelRow]
    width: float
    top: float
    height: float


def manner_of(rows: Sequence[LabelRow], stock: Stock) -> Manner:
    """Return what all of `rows` can share: the column beside the largest QR among them.

    LabelRefused when a QR does not fit, or leaves too little for words.
    """
    frames = [frame_for(stock, plan_for(stock, row.url)) for row in rows]
    return Manner(
        stock=stock,
        ordinary=specimens(rows),
        width=min(frame.width for frame in frames),
        top=max(frame.y for frame in frames),
        height=min(frame.height for frame in frames),
    )


def lay_out(row: LabelRow, manner: Manner) -> Laid:
    """Return the label of `row`; LabelRefused when even the least of it does not fit."""
    plan = plan_for(manner.stock, row.url)
    frame = replace(
        frame_for(manner.stock, plan), width=manner.width, y=manner.top, height=manner.height
    )
    width, height = frame.width * POINTS_PER_MM, frame.height * POINTS_PER_MM
    block = passport_block(row.passport, width=width) if row.passport else None
    free = height - (block.height + _APART if block else 0)
    pieces, notes = _pieces(row, _sizes(manner.ordinary[row.kind], width, height))
    pieces, fitted = _fitted(pieces, row, notes, width=width, height=free)
    for piece, result in zip(pieces, fitted, strict=True):
        if result.cut:
            notes.append(
                f"{row.code}: the {piece.slot.field} is too long for this label and ends in “…”"
            )
    lines = _stacked(pieces, fitted, frame, bottom=free)
    shapes, shapes_at = b"", (0.0, 0.0)
    if block:
        left, top = frame.x * POINTS_PER_MM, frame.y * POINTS_PER_MM + height - block.height
        shapes, shapes_at = block.shapes, (left, top)
        lines += tuple(replace(one, x=one.x + left, y=one.y + top) for one in block.lines)
    return Laid(
        plan=plan,
        frame=frame,
        lines=lines,
        shapes=shapes,
        shapes_at=shapes_at,
        notes=tuple(notes),
    )


def _pieces(row: LabelRow, given: _Sizes) -> tuple[list[_Piece], list[str]]:
    """Return the texts of the row with the size and height that the specimen gives each."""
    notes: list[str] = []
    pieces = []
    for slot, number, runs in texts(row):
        cleaned, whole = _cleaned(runs)
        if not whole:
            notes.append(f"{row.code}: part of the {slot.field} cannot be printed")
        if cleaned:
            size, room = given[slot.field, number]
            pieces.append(_Piece(slot=slot, runs=cleaned, size=size, height=room))
    return pieces, notes


def _cleaned(runs: Runs) -> tuple[Runs, bool]:
    results = [(printable(text), italic) for text, italic in runs]
    kept = tuple((text, italic) for (text, _), italic in results if text)
    blank = not "".join(text for text, _ in kept).strip()
    return () if blank else kept, all(whole for (_, whole), _ in results)


@lru_cache(maxsize=256)
def _sizes(ordinary: LabelRow, width: float, height: float) -> _Sizes:
    """Size and height (points) of each text of the specimen at the largest scale that fits.

    On a narrow column every text may take a line or two more, for larger type.
    """
    if ordinary.passport:
        height -= passport_block(ordinary.passport, width=width).height + _APART
    more = sum(height > width * share for share in _NARROW)
    for extra in range(more, _MOST_EXTRA_LINES + 1):
        for scale in _SCALES:
            found = _sizes_at(ordinary, scale, width, extra)
            if found and _total(ordinary, found) <= height:
                return found
    return {
        (slot.field, number): (slot.least, slot.least * LEADING)
        for slot, number, _ in texts(ordinary)
    }


def _sizes_at(ordinary: LabelRow, scale: float, width: float, extra: int) -> _Sizes | None:
    """As `_sizes` at one scale; None when the name is too long for it.

    The other texts need not follow the name: one that is too wide stays as large as it can be.
    """
    found: dict[tuple[str, int], tuple[float, float]] = {}
    for slot, number, runs in texts(ordinary):
        size = max(slot.least, round(slot.size * scale / STEP) * STEP)
        lines = 0
        while not lines and size >= slot.least:
            broken = wrap(
                runs, bold=slot.bold, width=width / size, most=slot.lines + extra, breaking=False
            )
            lines = len(broken)
            if not lines and slot.field == NAME:
                return None
            size -= 0 if lines else STEP
        if not lines:
            return None
        found[slot.field, number] = (size, lines * size * LEADING)
    return found


def _total(ordinary: LabelRow, given: _Sizes) -> float:
    slots = [(slot, *given[slot.field, number]) for slot, number, _ in texts(ordinary)]
    gaps = sum(slot.gap * size for slot, size, _ in slots[1:])
    return gaps + sum(room for _, _, room in slots) - _AIR_ABOVE * slots[0][1]


def _fitted(
    pieces: list[_Piece], row: LabelRow, notes: list[str], *, width: float, height: float
) -> tuple[list[_Piece], list[Fitted]]:
    """Return each piece broken into lines; a long name takes room from the others.

    What finds no place at all is left off with a note.
    """
    if not pieces:
        raise LabelRefused(f"There is nothing to print on the label of {row.code}.")
    best = _squeezed(pieces, width=width, height=height)
    if best and _cuts_name(best):
        # A name is worth more than these: it is never cut while leaving them off saves it.
        rest, gone = pieces, []
        for field in _GIVE_WAY:
            gone += [field] * any(piece.slot.field == field for piece in rest)
            rest = [piece for piece in rest if piece.slot.field != field]
            fewer = _squeezed(rest, width=width, height=height)
            if fewer and not _cuts_name(fewer):
                notes += [f"{row.code}: no room for the {one}; it was left off" for one in gone]
                return fewer
    if best:
        return best
    spare = [p for p, piece in enumerate(pieces) if not piece.slot.whole and not _is_name(piece)]
    if not spare:
        raise LabelRefused(
            f"The words of {row.code} do not fit on this label. Take a larger one, or print less "
            "on it."
        )
    notes.append(f"{row.code}: no room for the {pieces[spare[-1]].slot.field}; it was left off")
    rest = [piece for place, piece in enumerate(pieces) if place != spare[-1]]
    return _fitted(rest, row, notes, width=width, height=height)


def _squeezed(
    pieces: list[_Piece], *, width: float, height: float
) -> tuple[list[_Piece], list[Fitted]] | None:
    """Return the pieces with the others as small as the name needs; None when nothing fits."""
    best: tuple[list[_Piece], list[Fitted]] | None = None
    for share in _SQUEEZES:
        squeezed = [piece if _is_name(piece) else _smaller(piece, share) for piece in pieces]
        tried = _fit_all(squeezed, width=width, height=height)
        if not tried:
            continue
        best = (squeezed, tried)
        if not _cuts_name(best):
            break
    return best


def _cuts_name(tried: tuple[list[_Piece], list[Fitted]]) -> bool:
    return any(result.cut for piece, result in zip(*tried, strict=True) if _is_name(piece))


def _smaller(piece: _Piece, share: float) -> _Piece:
    size = max(piece.slot.least, round(piece.size * share / STEP) * STEP)
    return replace(piece, size=size, height=piece.height * size / piece.size)


def _fit_all(pieces: list[_Piece], *, width: float, height: float) -> list[Fitted]:
    """Return each piece broken into lines; empty when the name would have no line at all."""
    sides = [None if _is_name(piece) else _fit_side(piece, width) for piece in pieces]
    left = height + _AIR_ABOVE * pieces[0].size - _gaps(pieces)
    left -= sum(side.height for side in sides if side)
    needed = sum(piece.slot.least * LEADING for piece in pieces if _is_name(piece))
    if left < needed - 1e-6:
        return []
    results = []
    for piece, side in zip(pieces, sides, strict=True):
        results.append(side or _fit_in(piece, width, left))
        left -= 0 if side else results[-1].height
    for place, piece in enumerate(pieces):
        short = results[place].cut or results[place].size < piece.size
        if short and not _is_name(piece):
            before = results[place].height
            results[place] = _fit_in(piece, width, before + left)
            left -= results[place].height - before
    return results


def _is_name(piece: _Piece) -> bool:
    return piece.slot.field == NAME


def _gaps(pieces: Sequence[_Piece]) -> float:
    return sum(piece.slot.gap * piece.size for piece in pieces[1:])


def _fit_side(piece: _Piece, width: float) -> Fitted:
    result = _fit_in(piece, width, piece.height)
    if result.cut and piece.slot.whole:
        return _fit_in(replace(piece, size=piece.slot.least), width, 1000.0)
    return result


def _fit_in(piece: _Piece, width: float, height: float) -> Fitted:
    return fit(
        piece.runs,
        bold=piece.slot.bold,
        width=width,
        height=height,
        size=piece.size,
        least=min(piece.slot.least, piece.size),
        prose=piece.slot.prose,
    )


def _stacked(
    pieces: Sequence[_Piece], fitted: Sequence[Fitted], frame: Frame, *, bottom: float
) -> tuple[Placed, ...]:
    """Return the lines from the top of the column down, those of the low slots from `bottom` up."""
    left, top = frame.x * POINTS_PER_MM, frame.y * POINTS_PER_MM
    high = [(p, f) for p, f in zip(pieces, fitted, strict=True) if not p.slot.low]
    low = [(p, f) for p, f in zip(pieces, fitted, strict=True) if p.slot.low]
    placed: list[Placed] = []
    y = -_AIR_ABOVE * (high[0][1].size if high else 0.0)
    for number, (piece, result) in enumerate(high):
        y += piece.slot.gap * piece.size if number else 0.0
        y = _put(placed, piece, result, left=left, top=top, y=y)
    y = bottom - sum(f.height for _, f in low) - sum(p.slot.gap * p.size for p, _ in low[1:])
    for number, (piece, result) in enumerate(low):
        y += piece.slot.gap * piece.size if number else 0.0
        y = _put(placed, piece, result, left=left, top=top, y=y)
    return tuple(placed)


def _put(
    placed: list[Placed], piece: _Piece, result: Fitted, *, left: float, top: float, y: float
) -> float:
    """Add the lines of one piece from `y` down; returns where the next may start."""
    for line in result.lines:
        placed.append(Placed(line=line, bold=piece.slot.bold, size=result.size, x=left, y=top + y))
        y += result.size * LEADING
    return y
