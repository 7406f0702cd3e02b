"""How would trouble lie if chance alone moved whole batches about?

The trays of a batch share nearly everything, so their outcomes stay together when outcomes are
dealt out anew; a probability from arrangements like these holds however alike the trays of a
batch are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

# Batches are exchanged with batches of about their own size: as many to a stratum, at least.
FEWEST_OF_A_SIZE = 8
# Cells (permutations x trays) worked on at once: about 8 MB an array of single precision.
CELLS_AT_ONCE = 500_000


def _strata(batch: NDArray[np.intp]) -> NDArray[np.intp]:
    """Give each batch the number of the stratum within which it is exchanged.

    Batches of one size form a stratum; sizes that too few batches have join the next size.
    """
    sizes = np.bincount(batch)
    stratum = np.zeros(sizes.size, dtype=np.intp)
    current, held = 0, 0
    for size in np.unique(sizes):
        of_size = sizes == size
        stratum[of_size] = current
        held += int(of_size.sum())
        if held >= FEWEST_OF_A_SIZE:
            current, held = current + 1, 0
    if held and current:
        stratum[stratum == current] = current - 1
    return stratum


def moved_batches(
    outcome: NDArray[np.float32],
    batch: NDArray[np.intp],
    member: NDArray[np.float32],
    rng: np.random.Generator,
    permutations: int,
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Count (affected trays, trays) under each value when whole batches change places.

    Parameters
    ----------
    outcome
        1 for an affected tray, 0 for another; shape (trays,).
    batch
        Number of each tray's batch, from 0 without gaps; shape (trays,).
    member
        1 where a tray has a value; shape (trays, values).

    Returns
    -------
    tuple of arrays
        Both (permutations, values), whole numbers.

    Notes
    -----
    A batch keeps its trays and their outcomes and takes the place of another batch of its
    stratum; its trays, in random order, get the values of that place's trays, in random order,
    over again where it has more trays than the place.
    """
    size = np.bincount(batch)
    stratum = _strata(batch)
    slots = np.argsort(stratum, kind="stable")
    start = np.concatenate(([0], np.cumsum(size)[:-1]))
    in_order = np.sort(batch)
    nth = np.arange(batch.size) - start[in_order]
    affected = np.empty((permutations, member.shape[1]), dtype=np.int64)
    trays = np.empty_like(affected)
    step = max(1, CELLS_AT_ONCE // max(1, outcome.size))
    for first in range(0, permutations, step):
        rows = min(step, permutations - first)
        shape, length = (rows, batch.size), rows * batch.size
        slot = np.empty((rows, size.size), dtype=np.intp)
        drawn = np.argsort(rng.random((rows, size.size)) + stratum, axis=1)
        np.put_along_axis(slot, drawn, slots[None, :], axis=1)
        to = slot[:, in_order]
        inside = np.argsort(batch + rng.random(shape), axis=1)
        places = np.argsort(batch + rng.random(shape), axis=1)
        place = np.take_along_axis(places, start[to] + nth % size[to], axis=1)
        flat = (place + np.arange(rows)[:, None] * batch.size).ravel()
        ill = np.bincount(flat, weights=outcome[inside].ravel(), minlength=length)
        all_ = np.bincount(flat, minlength=length)
        affected[first : first + rows] = np.rint(ill.astype(np.float32).reshape(shape) @ member)
        trays[first : first + rows] = np.rint(all_.astype(np.float32).reshape(shape) @ member)
    return affected, trays


def step_down_min_p(excess: NDArray[np.int64]) -> NDArray[np.float64]:
    """Adjust the one-sided p of each value for all values looked at.

    ``excess`` is (1 + permutations, values), larger being worse, the observed arrangement first:
    it counts as one of them. Returns shape (values,), each in (0, 1].

    Westfall and Young, Resampling-Based Multiple Testing (1993), section 2.8: from memory.
    """
    arrangements = excess.shape[0]
    single = np.empty(excess.shape, dtype=np.float64)
    for column in range(excess.shape[1]):
        values = excess[:, column]
        below = np.searchsorted(np.sort(values), values, side="left")
        single[:, column] = (arrangements - below) / arrangements
    order = np.argsort(single[0], kind="stable")
    # smallest p among this value and all that look weaker, in every arrangement
    least = np.minimum.accumulate(single[:, order[::-1]], axis=1)[:, ::-1]
    stepped = (least <= single[0, order] * (1 + 1e-12)).mean(axis=0)
    adjusted: NDArray[np.float64] = np.empty(order.size)
    adjusted[order] = np.maximum.accumulate(stepped)
    return adjusted
