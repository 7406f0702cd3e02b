"""What becomes of one propagation batch, from its first trays to its last pot?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from batches.core.stages import Route, Stage
from tests.simulate.control import live_control
from tests.simulate.covered import CoveredLife, Parcel
from tests.simulate.ferns import FernTruth
from tests.simulate.fill import Vessel, fill
from tests.simulate.grower import Grower
from tests.simulate.potted import CellLife, PotLife
from tests.simulate.stock import Batch, Fate, Lot, Medium, Origin, Tray

Fates: TypeAlias = Mapping[int, Fate]


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchPlan:
    """What is to be started: the fern, the day, the origin and how many trays.

    ``fates`` names what is to befall the first, second ... tray, ``cell_fates`` and ``pot_fates``
    the same for the cell trays and carriers that come of them; ``quantity`` is the number of
    plants in each tray of a division or of bought-in plants; ``speed`` is a factor on all its
    times; ``medium`` stands for the mix in use that day.
    """

    fern: FernTruth
    started: int
    route: Route = Route.SPORE
    trays: int = 3
    lot: Lot | None = None
    origin: Origin | None = None
    medium: Medium | None = None
    start_stage: Stage | None = None
    quantity: int = 0
    control: bool = False
    fates: Fates = field(default_factory=dict)
    cell_fates: Fates = field(default_factory=dict)
    pot_fates: Fates = field(default_factory=dict)
    speed: float = 1.0
    sold_as: str = ""
    notes: str = ""
    cells: int = 84
    carrier: int = 40


def raise_batch(grower: Grower, plan: BatchPlan) -> Batch:
    """Start the batch as planned and let all that comes of it live to the nursery's last day."""
    mix = "sowing" if plan.route in (Route.SPORE, Route.BULBIL) else "cells"
    medium = plan.medium or grower.medium(mix, plan.started)
    batch = Batch(
        fern=plan.fern, route=plan.route, started=plan.started, medium=medium, lot=plan.lot,
        origin=plan.origin, sold_as=plan.sold_as, notes=plan.notes, speed=plan.speed,
    )  # fmt: skip
    grower.batches.append(batch)
    for number in range(plan.trays):
        batch.trays.append(_starting_tray(grower, batch, plan, number))
    medium.litres += 3.0 * plan.trays
    started = list(batch.trays)
    if started[0].start_stage is Stage.POTTED_UP:
        carriers = started
    else:
        parcels: list[Parcel] = []
        cell_trays = started if started[0].start_stage is Stage.PRICKED_OUT else []
        if not cell_trays:
            parcels = _live_covered(grower, started)
            _control(grower, batch, plan)
        carriers = _grow_on(grower, batch, plan, cell_trays, parcels)
    _sell_off(grower, carriers)
    for tray in batch.trays:
        grower.strike_out_some(tray)
    return batch


def _starting_tray(grower: Grower, batch: Batch, plan: BatchPlan, number: int) -> Tray:
    stage = plan.start_stage or _first_stage(plan.route)
    covered = stage in (Stage.SOWN, Stage.PEGGED_DOWN)
    container, cells, unit = {
        Stage.SOWN: ("covered tray", None, "patches"),
        Stage.PEGGED_DOWN: ("covered tray", None, "plants"),
        Stage.DIVIDED: ("open tray", None, "plants"),
        Stage.PRICKED_OUT: (f"cell tray {plan.cells}", plan.cells, "plants"),
        Stage.POTTED_UP: (f"carrier {plan.fern.pot_size}", plan.carrier, "pots"),
    }[stage]
    tray = Tray(
        batch=batch, container=container, cells=cells, unit=unit, start_stage=stage,
        started=plan.started, cover="closed" if covered else "off", medium=batch.medium,
        container_state=grower.rng.choice(("washed", "washed", "new")),
        pot_size=plan.fern.pot_size if stage is Stage.POTTED_UP else "",
        label_printed=None if grower.happens(grower.habits.unlabelled) else plan.started,
        fate=plan.fates.get(number + 1) or Fate(),
    )  # fmt: skip
    tray.move_to(plan.started, "covered" if covered else "pots" if tray.pot_size else "cells")
    if plan.quantity:
        tray.count_in(plan.started, plan.quantity, grower.somebody())
    return tray


def _first_stage(route: Route) -> Stage:
    return {
        Route.SPORE: Stage.SOWN,
        Route.BULBIL: Stage.PEGGED_DOWN,
        Route.DIVISION: Stage.DIVIDED,
        Route.BOUGHT_IN: Stage.PRICKED_OUT,
    }[route]


def _live_covered(grower: Grower, started: list[Tray]) -> list[Parcel]:
    parcels: list[Parcel] = []
    waiting = list(started)
    while waiting:
        life = CoveredLife(grower, waiting.pop(0))
        life.live()
        parcels += life.parcels
        waiting += life.children
    return parcels


def _control(grower: Grower, batch: Batch, plan: BatchPlan) -> None:
    """Add an unsown tray that stands beside the sown ones until the last of them has ended."""
    if plan.route is not Route.SPORE or not plan.control:
        return
    ends = [tray.ended for tray in batch.trays]
    tray = Tray(
        batch=batch, container="covered tray", start_stage=Stage.SOWN, started=plan.started,
        unit="patches", container_state="washed", cover="closed", medium=batch.medium,
        control=True, label_printed=plan.started,
    )  # fmt: skip
    tray.move_to(plan.started, "covered")
    batch.trays.append(tray)
    live_control(grower, tray, None if None in ends else max(day for day in ends if day))


def _grow_on(
    grower: Grower, batch: Batch, plan: BatchPlan, cell_trays: list[Tray], parcels: list[Parcel]
) -> list[Tray]:
    """Prick out and pot up; return the carriers."""
    fern = batch.fern
    if batch.route is not Route.DIVISION:
        cells = Vessel(
            container=f"cell tray {plan.cells}", cells=plan.cells, stage=Stage.PRICKED_OUT,
            unit="plants", zone="cells", medium="cells", cover="vented", state="washed",
        )  # fmt: skip
        cell_trays = cell_trays + fill(grower, batch, parcels, cells)
        parcels = []
        for number, tray in enumerate(cell_trays, start=1):
            tray.fate = plan.cell_fates.get(number, tray.fate)
            life = CellLife(grower, tray)
            life.live()
            parcels += life.parcels
    pots = Vessel(
        container=f"carrier {fern.pot_size}", cells=plan.carrier, stage=Stage.POTTED_UP,
        unit="pots", zone="pots", medium="pots", pot_size=fern.pot_size,
    )  # fmt: skip
    carriers = fill(grower, batch, parcels, pots)
    for number, tray in enumerate(carriers, start=1):
        tray.fate = plan.pot_fates.get(number, tray.fate)
    return carriers


def _sell_off(grower: Grower, carriers: list[Tray]) -> None:
    waiting = list(carriers)
    while waiting:
        life = PotLife(grower, waiting.pop(0))
        life.live()
        waiting += life.children
