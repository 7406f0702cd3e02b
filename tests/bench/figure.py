"""One line of the benchmark table."""

from __future__ import annotations

from typing import NamedTuple


class Figure(NamedTuple):
    """A measured value beside its floor and its bar.

    ``floor`` and ``ratio`` are None where nothing simpler is compared; ``bar`` is in words.
    """

    name: str
    value: float
    unit: str
    floor: float | None
    ratio: float | None
    bar: str
    holds: bool
