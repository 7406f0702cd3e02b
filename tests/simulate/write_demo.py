"""How is the folder of the demo nursery written?

Run ``python -m tests.simulate.write_demo`` at the top of the repository; it writes
``demo_fixtures/`` anew, the same each time.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import Any

from batches.core.stages import Route, Stage
from tests.simulate.benches import Layout
from tests.simulate.days import moment
from tests.simulate.demo_ferns import BY_CODE, FERNS
from tests.simulate.demo_story import (
    COLD_NIGHTS,
    FIRST_DAY,
    LAYOUT,
    LOTS,
    OPEN_ORDERS,
    ORIGINS,
    REFERENCE_DAY,
    SELECTION,
    SOWINGS,
    TREATMENTS,
    Sowing,
)
from tests.simulate.emit import records_of
from tests.simulate.grower import Grower, Habits
from tests.simulate.looked import Ids
from tests.simulate.origins import collect
from tests.simulate.raising import BatchPlan, raise_batch
from tests.simulate.rounds import house_readings, look_over
from tests.simulate.stock import Lot, Order, Origin, Tray
from tests.simulate.tables import ROW, Records, write_folder

FOLDER = Path(__file__).resolve().parents[2] / "demo_fixtures"
SEED = 233
# In the reference week trays are only looked at: whoever loads the demo earlier in a week leaves
# these looks out and nothing hangs on them.
HABITS = Habits(
    quiet_days=2,
    sale_gap=7.0,
    isolate=0.8,
    decides=1.0,
    notes=0.16,
    glance_rounds=0.12,
    strike_outs=0.003,
    mould=0.04,
    ruin_covered=1.5e-4,
)


def _ordinal(day: str) -> int:
    return date.fromisoformat(day).toordinal()


def demo_records(*, seed: int = SEED) -> Records:
    """Return the demo nursery up to the eve of its reference day."""
    eve = REFERENCE_DAY.toordinal() - 1
    grower = Grower(seed=seed, first=FIRST_DAY.toordinal(), until=eve, ferns=FERNS, habits=HABITS)
    origins = _origins(grower)
    lots = _lots(grower, origins)
    for sowing in SOWINGS:
        raise_batch(grower, _plan(grower, sowing, origins, lots))
    raise_batch(grower, _selection(grower))
    for fern, many, size, day, customer in OPEN_ORDERS:
        grower.orders.append(
            Order(
                fern=BY_CODE[fern], quantity=many, pot_size=size, wanted_on=_ordinal(day),
                customer=customer,
            )
        )  # fmt: skip
    records = records_of(grower, LAYOUT, seed=seed, looked_over=_last_days)
    records.house_readings = _readings(seed, eve)
    records.treatments = _treatments(grower, seed)
    return records


def _origins(grower: Grower) -> dict[str, Origin]:
    origins = {}
    for story in ORIGINS:
        origin = Origin(
            fern=BY_CODE[story.fern], kind=story.kind, entered=story.year, **story.parts
        )
        grower.origins.append(origin)
        origins[story.key] = origin
    return origins


def _lots(grower: Grower, origins: dict[str, Origin]) -> dict[str, Lot]:
    lots = {}
    for story in LOTS:
        lot = collect(grower, origins[story.origin], _ordinal(story.day))
        for name, value in story.parts.items():
            setattr(lot, name, value)
        lots[story.key] = lot
    return lots


def _plan(
    grower: Grower, sowing: Sowing, origins: dict[str, Origin], lots: dict[str, Lot]
) -> BatchPlan:
    parts = dict(sowing.parts)
    started = _ordinal(sowing.day)
    if parts.pop("mouldy", False):
        medium = grower.medium("sowing", _ordinal("2026-04-07"))
        medium.made_on = _ordinal("2026-04-06")
        medium.mouldy, medium.treatment = True, "steam"
        medium.temperature_c, medium.minutes = 52.0, 12.0
        parts["medium"] = medium
    if parts.get("route", Route.SPORE) is Route.SPORE:
        parts["lot"] = lots[sowing.origin]
    else:
        parts["origin"] = origins[sowing.origin]
    return BatchPlan(fern=BY_CODE[sowing.fern], started=started, trays=sowing.trays, **parts)


def _selection(grower: Grower) -> BatchPlan:
    """Start a batch from one carrier of the first male ferns."""
    first = next(
        batch
        for batch in grower.batches
        if batch.fern.code == SELECTION.fern and batch.started == _ordinal(SELECTION.origin)
    )
    started = _ordinal(SELECTION.day)
    carrier = next(
        tray
        for tray in first.trays
        if tray.start_stage is Stage.POTTED_UP and tray.started < started - 30
    )
    origin = Origin(
        fern=first.fern, kind="tray", entered=2026, provenance="Z", from_tray=carrier,
        notes="One plant with crested tips, all others plain.",
    )  # fmt: skip
    grower.origins.append(origin)
    return BatchPlan(
        fern=first.fern, started=started, trays=SELECTION.trays, origin=origin, **SELECTION.parts
    )


def _last_days(grower: Grower, layout: Layout, trays: Iterable[Tray]) -> None:
    """Look benches over; in the reference week one of the hands is off and much is left undone.

    The first mat with more to come was promised for the eve.
    """
    look_over(grower, layout, trays)
    eve = grower.until
    for tray in trays:
        tray.looks = [
            look
            for look in tray.looks
            if look.day < eve - 1 or "mould" in look.signs or grower.happens(0.4)
        ]
    promised = next((tray for tray in trays if tray.come_back is not None), None)
    if promised is not None:
        promised.come_back = eve


def _readings(seed: int, eve: int) -> list[Any]:
    rows = {
        (row.house, row.on): row
        for row in house_readings(LAYOUT, first=FIRST_DAY.toordinal(), until=eve + 1, seed=seed)
    }
    for house, on, lowest, highest in COLD_NIGHTS:
        rows[house, on] = ROW["house_readings"](house, on, f"{lowest:.1f}", f"{highest:.1f}")
    return sorted(rows.values(), key=lambda row: (row.on, row.house))


def _treatments(grower: Grower, seed: int) -> list[Any]:
    ids = Ids(seed + 40)
    rows = []
    for day, clock, product, rate, where, hours in TREATMENTS:
        hour, minute = clock.split(":")
        rows.append(
            ROW["treatments"](
                id=ids.fresh(), done_at=moment(_ordinal(day), int(hour) * 3600 + int(minute) * 60),
                product=product, rate=rate, place_or_trays=where, operator=grower.people[1],
                reentry_hours=f"{hours:g}",
            )
        )  # fmt: skip
    return rows


if __name__ == "__main__":
    write_folder(demo_records(), FOLDER)
