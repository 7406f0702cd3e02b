"""Which row does a look become, from which tablet, and when was it stored?"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Any
from uuid import UUID

from tests.simulate.days import moment
from tests.simulate.stock import Look
from tests.simulate.tables import ROW

TABLETS = ("bench tablet 1", "bench tablet 2")


class Ids:
    """Ids that look like version 4 and follow from the seed."""

    def __init__(self, seed: int) -> None:
        self._rng = Random(seed)

    def fresh(self) -> str:
        """Return the next id."""
        return str(UUID(int=self._rng.getrandbits(128), version=4))


def look_rows(looks: list[Look], people: Sequence[str], *, seed: int) -> list[Any]:
    """Return looks in the order of time, each with its id, its tablet and when it was stored."""
    rng, ids = Random(seed + 1), Ids(seed + 2)
    looks.sort(key=lambda look: (look.day, look.second, look.tray.code))
    for look in looks:
        look.id = ids.fresh()
    tablet_of = {person: TABLETS[place % len(TABLETS)] for place, person in enumerate(people)}
    given = dict.fromkeys(TABLETS, 0)
    rows = []
    for look in looks:
        tablet, number, delay, source = tablet_of[look.by], "", rng.randint(2, 40), "tablet"
        chance = rng.random()
        if chance < 0.08 and not look.struck and look.strikes is None:
            tablet, source, delay = "", "paper", 18 * 3600 - look.second
        else:
            given[tablet] += 1
            number = str(given[tablet])
            delay += rng.randint(600, 14400) if chance > 0.92 else 0
        rows.append(
            ROW["checks"](
                look.id, look.tray.code, moment(look.day, look.second), look.by, look.stage,
                "" if look.count is None else str(look.count), yes(look.about),
                " ".join(look.signs), yes(look.opened),
                yes(look.glance), look.note, look.strikes.id if look.strikes else "",
                moment(look.day, min(look.second + delay, 23 * 3600)), tablet, number, source,
            )
        )  # fmt: skip
    return sorted(rows, key=lambda row: (row.seen_at, row.id))


def yes(value: object) -> str:
    """Return the cell of a yes-column."""
    return "yes" if value else ""
