"""What does a bench of so many rows and columns look like, before it is stored?"""

from __future__ import annotations

from dataclasses import dataclass

from batches.services.houses import MOST_PLACES

#: so many rows or columns are drawn at the most; a longer bench is drawn cut off
MOST_DRAWN = 24
#: a place's side and the gap before the next, in the drawing's own units
_SIDE, _STEP = 18, 20


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchDraft:
    """A drawing: corners of its places, its size, and what it says in words."""

    places: tuple[tuple[int, int], ...]
    width: int
    height: int
    words: str
    cut_off: bool


def bench_draft(rows: object, columns: object) -> BenchDraft | None:
    """Return the drawing; None while a number is missing or out of range."""
    down, across = _whole(rows), _whole(columns)
    if down is None or across is None:
        return None
    drawn_down, drawn_across = min(down, MOST_DRAWN), min(across, MOST_DRAWN)
    return BenchDraft(
        places=tuple(
            (column * _STEP + 1, row * _STEP + 1)
            for row in range(drawn_down)
            for column in range(drawn_across)
        ),
        width=drawn_across * _STEP,
        height=drawn_down * _STEP,
        words=f"{down} × {across}: {down * across:,} places",
        cut_off=(drawn_down, drawn_across) != (down, across),
    )


def _whole(value: object) -> int | None:
    try:
        number = int(str(value))
    except ValueError:
        return None
    return number if 1 <= number <= MOST_PLACES else None
