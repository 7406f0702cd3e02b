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
    # Where batches only change places with others of their size, every place keeps its trays, and
    # where the sound ones went need not be followed.
    even = all(np.ptp(size[stratum == one]) == 0 for one in np.unique(stratum))
    slots = np.argsort(stratum, kind="stable")
    start = np.concatenate(([0], np.cumsum(size)[:-1]))
    in_order = np.sort(batch)
    nth = np.arange(batch.size) - start[in_order]
    ill_first = np.argsort(batch - 0.5 * outcome, kind="stable")
    followed = np.flatnonzero(outcome[ill_first]) if even else np.arange(batch.size)
    ours = in_order[followed]
    affected = np.empty((permutations, member.shape[1]), dtype=np.int64)
    trays = np.tile(np.rint(member.sum(axis=0)).astype(np.int64), (permutations, 1))
    step = max(1, CELLS_AT_ONCE // max(1, outcome.size))
    for first in range(0, permutations, step):
        rows = min(step, permutations - first)
        part, shape = slice(first, first + rows), (rows, batch.size)
        slot = np.empty((rows, size.size), dtype=np.intp)
        drawn = np.argsort(rng.random((rows, size.size)) + stratum, axis=1)
        np.put_along_axis(slot, drawn, slots[None, :], axis=1)
        to = slot[:, ours]
        places = np.argsort(batch + rng.random(shape), axis=1)
        within = np.broadcast_to(nth[followed], to.shape)
        if not even:
            room = size[to]
            within = np.where(within < room, within, within % room)
        place = np.take_along_axis(places, start[to] + within, axis=1)
        flat = (place + np.arange(rows)[:, None] * batch.size).ravel()
        if even:
            ill = np.bincount(flat, minlength=rows * batch.size)
        else:
            inside = np.argsort(batch + rng.random(shape), axis=1)
            ill = np.bincount(flat, weights=outcome[inside].ravel(), minlength=rows * batch.size)
            all_ = np.bincount(flat, minlength=rows * batch.size)
            trays[part] = np.rint(all_.astype(np.float32).reshape(shape) @ member)
        affected[part] = np.rint(ill.astype(np.float32).reshape(shape) @ member)
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
