"""How often do pots promised to several orders of one fern all come, size by size?

Orders are served one after the other, each out of pots of its own size first, then out of pots
that have no size yet; one that names no size is served from any.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
#: the key of pots that have no size yet: plants that are still to be potted
NO_SIZE = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Promise:
    """So many pots of a size promised (`NO_SIZE` for any)."""

    pots: int
    size: str = NO_SIZE


def chance_of_last(promises: Sequence[Promise], there: Mapping[str, Floats]) -> float:
    """Return the share of draws in which the last promise is kept after all before it.

    Parameters
    ----------
    promises : sequence of Promise
        At least one, in the order in which they are served.
    there : mapping of size to array of shape (draws,)
        Pots there by the day of the last promise, in every draw; all of one shape.

    Notes
    -----
    An earlier promise takes what it still lacks before a later one gets anything. One that names
    no size spares the sizes that others name: it takes from sizes nobody named, then from pots
    without a size, then from the rest.
    """
    left = {size: np.array(pots, dtype=float) for size, pots in there.items()}
    named = {one.size for one in promises} - {NO_SIZE}
    lacking = np.zeros(0)
    for one in promises:
        sizes = [one.size, NO_SIZE] if one.size else _spared_last(left, named)
        lacking = np.full(_draws(there), float(one.pots))
        for size in sizes:
            if size in left:
                taken = np.minimum(left[size], lacking)
                left[size] -= taken
                lacking -= taken
    return float((lacking <= 0).mean())


def _spared_last(left: Mapping[str, Floats], named: set[str]) -> list[str]:
    def rank(size: str) -> tuple[int, str]:
        return (2 if size in named else 1 if size == NO_SIZE else 0, size)

    return sorted(left, key=rank)


def _draws(there: Mapping[str, Floats]) -> int:
    return next((pots.size for pots in there.values()), 1)
