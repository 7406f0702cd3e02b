"""How does a command read a day from its command line?"""

from __future__ import annotations

from argparse import ArgumentTypeError
from collections.abc import Callable
from datetime import date


def day(text: str) -> date:
    """Return the day written as 2026-11-25; anything else is refused in words."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is not a day. Write it like 2026-11-25.") from None


def whole_number(low: int, high: int) -> Callable[[str], int]:
    """Return a reader of whole numbers between two bounds; anything else is refused in words."""

    def read(text: str) -> int:
        try:
            number = int(text)
        except ValueError:
            raise ArgumentTypeError(f"“{text}” is no whole number.") from None
        if not low <= number <= high:
            raise ArgumentTypeError(f"{number} is not between {low} and {high}.")
        return number

    return read


def chance(text: str) -> float:
    """Return a chance between 0 and 1, both out; anything else is refused in words."""
    try:
        number = float(text)
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is no chance. Write it like 0.9.") from None
    if not 0 < number < 1:
        raise ArgumentTypeError(f"{text} is no chance: write one between 0 and 1, like 0.9.")
    return number
