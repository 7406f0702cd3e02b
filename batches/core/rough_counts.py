"""How many is that, counted as people count: full less gaps, by rows, by eighths of a tray?

What comes out is always “about so many”: it never becomes an exact count.
"""

from __future__ import annotations

from batches.core.errors import NotUnderstood

EIGHTHS = 8


def full_less_gaps(*, cells: int, gaps: int) -> int:
    """Return the cells of a tray that are filled, from how many are empty (0 to ``cells``).

    Raises
    ------
    NotUnderstood
        When more gaps are named than the tray has cells.
    """
    if not 0 <= gaps <= cells:
        raise NotUnderstood(f"A tray of {cells} cells has 0 to {cells} gaps.", field="gaps")
    return cells - gaps


def by_rows(*, rows: int, per_row: int, more: int = 0) -> int:
    """Return rows times how many stand in a row, and what stands over.

    Raises
    ------
    NotUnderstood
        For a number below nothing.
    """
    if rows < 0 or per_row < 0 or more < 0:
        raise NotUnderstood("Rows are counted from nothing up.", field="rows")
    return rows * per_row + more


def by_eighths(*, eighths: int, cells: int) -> int:
    """Return how many cells that many eighths of a tray are (0 to 8), rounded half up.

    Raises
    ------
    NotUnderstood
        When it is not 0 to 8.
    """
    if not 0 <= eighths <= EIGHTHS:
        raise NotUnderstood("A tray has eight eighths.", field="eighths")
    return (2 * eighths * cells + EIGHTHS) // (2 * EIGHTHS)
