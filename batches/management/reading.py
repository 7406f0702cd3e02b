"""How does a command read a day from its command line?"""

from __future__ import annotations

from argparse import ArgumentTypeError
from datetime import date


def day(text: str) -> date:
    """Return the day written as 2026-11-25; anything else is refused in words."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"“{text}” is not a day. Write it like 2026-11-25.") from None
