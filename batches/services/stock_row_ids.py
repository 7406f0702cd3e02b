"""Which ids do the rows bear that a look or a picking writes into the stock book?

They are made from the look's or the picking's id, so that the same one gives the same rows
everywhere.
"""

from __future__ import annotations

import uuid
from uuid import UUID

#: how many losses one look may name, and how often its count may be settled anew
MOST_LOSSES = 40
_MOST_SETTLED = 60
_ASIDE = uuid.UUID("0d7b0a53-7d0c-4d39-9d0a-5f0f6ad0f3c4")


def loss_id(check_id: UUID, place: int) -> UUID:
    """Return the id of the place-th loss that a look wrote.

    Behind the `MOST_LOSSES` places of what it said stand those of losses that were taken back in.
    """
    return uuid.uuid5(check_id, f"loss|{place}")


def count_id(check_id: UUID, time: int) -> UUID:
    """Return the id of the row that a look's count wrote, the time-th time it was settled."""
    return uuid.uuid5(check_id, f"count|{time}")


def count_ids(check_id: UUID) -> list[UUID]:
    """Return the ids that the rows of a look's count may bear."""
    return [count_id(check_id, n) for n in range(_MOST_SETTLED)]


def ids_of_rows(check_id: UUID) -> list[UUID]:
    """Return the ids of all rows that a look may have written."""
    return loss_ids(check_id) + count_ids(check_id)


def loss_ids(check_id: UUID) -> list[UUID]:
    """Return the ids its losses may bear: as they were said, then as they were taken back in."""
    return [loss_id(check_id, n) for n in range(2 * MOST_LOSSES)]


def out_id(picking_id: UUID, place: int, of: int) -> UUID:
    """Return the id of the place-th row of a picking of so many; the first carries its own."""
    return picking_id if place == 0 else uuid.uuid5(picking_id, f"out|{place}|{of}")


def aside_id(check_id: UUID) -> UUID:
    """Return the id under which a look's count waits to be settled."""
    return uuid.uuid5(_ASIDE, f"count|{check_id}")


def strike_aside_id(row_id: UUID) -> UUID:
    """Return the id of the row that strikes out a count's row when the count is set aside."""
    return uuid.uuid5(_ASIDE, str(row_id))
