"""Into which cell trays and carriers does what was taken out of its parents go?

Trays of one batch only. A tray that is not full is filled up on another day of the same week, also
from a sister tray.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from batches.core.stages import Stage
from tests.simulate.covered import Parcel
from tests.simulate.grower import Grower
from tests.simulate.stock import Batch, Move, Tray

_FILLED_UP_WITHIN = 8
_TOO_FEW = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Vessel:
    """What is filled: its name, its cells, the unit and the part of the nursery it stands in."""

    container: str
    cells: int
    stage: Stage
    unit: str
    zone: str
    medium: str
    pot_size: str = ""
    cover: str = "off"
    state: str = "new"


def fill(grower: Grower, batch: Batch, parcels: Iterable[Parcel], vessel: Vessel) -> list[Tray]:
    """Give the parcels to fresh trays, first come first; write the parents' rows of the book."""
    filled: list[Tray] = []
    room = 0
    for parcel in sorted(parcels, key=lambda parcel: (parcel.day, id_order(batch, parcel.tray))):
        if room and not _goes_on(grower, filled[-1], parcel):
            room = 0
        shares = _shares(parcel.plants, room, vessel.cells)
        lefts = _lefts(parcel.left, shares)
        for place, (plants, left) in enumerate(zip(shares, lefts, strict=True)):
            if place or not room:
                filled.append(_fresh(grower, batch, vessel, parcel.day))
                room = vessel.cells
            _carry_over(parcel, filled[-1], plants, left)
            room -= plants
    batch.trays.extend(filled)
    return filled


def _goes_on(grower: Grower, standing: Tray, parcel: Parcel) -> bool:
    """Tell whether a tray that is not full is filled up out of this parcel."""
    soon = parcel.day - standing.started <= _FILLED_UP_WITHIN
    return soon and parcel.left > _TOO_FEW and grower.happens(0.6)


def id_order(batch: Batch, tray: Tray) -> int:
    """Return the place of a tray among its batch's, for a stable order."""
    return batch.trays.index(tray)


def _shares(plants: int, room: int, cells: int) -> list[int]:
    """Divide plants over the room left in the standing tray and over fresh ones."""
    shares = [min(room, plants)] if room else []
    rest = plants - sum(shares)
    while rest > 0:
        share = min(cells, rest)
        if 0 < rest - share <= _TOO_FEW:
            share -= _TOO_FEW
        shares.append(share)
        rest -= share
    return shares


def _lefts(left: int, shares: list[int]) -> list[int]:
    """Divide what left the parent in proportion, at least one for each share."""
    total = sum(shares)
    lefts = []
    given = 0
    passed = 0
    for place, share in enumerate(shares):
        passed += share
        upto = max(given + 1, round(left * passed / total))
        upto = min(upto, left - (len(shares) - place - 1))
        lefts.append(upto - given)
        given = upto
    return lefts


def _fresh(grower: Grower, batch: Batch, vessel: Vessel, day: int) -> Tray:
    tray = Tray(
        batch=batch, container=vessel.container, start_stage=vessel.stage, started=day,
        cells=vessel.cells, unit=vessel.unit, pot_size=vessel.pot_size, cover=vessel.cover,
        container_state=vessel.state, medium=grower.medium(vessel.medium, day),
        label_printed=None if grower.happens(grower.habits.unlabelled) else day,
    )  # fmt: skip
    tray.move_to(day, vessel.zone)
    return tray


def _carry_over(parcel: Parcel, child: Tray, plants: int, left: int) -> None:
    move = Move(
        tray=parcel.tray, day=parcel.day, kind="out", quantity=left, by=parcel.by,
        arrived=None if plants == left else plants, to=child,
    )  # fmt: skip
    parcel.tray.moves.append(move)
    child.receive(parcel.day, plants, parcel.tray)
