"""What would a nursery with known truth write down?

`simulate` grows a whole nursery from a seed and returns its records with the truth beside them.
The same seed gives the same records, to the byte.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from batches.core.stages import Route, Stage
from tests.simulate.benches import Layout, layout_for
from tests.simulate.emit import records_of
from tests.simulate.ferns import FernTruth, default_ferns
from tests.simulate.grower import Grower, Habits
from tests.simulate.origins import add_origin, drawer
from tests.simulate.raising import BatchPlan, raise_batch
from tests.simulate.rounds import house_readings, look_over, thin_out, treatments
from tests.simulate.stock import Batch, Lot, Medium, Order, Tray
from tests.simulate.tables import Records

_OTHER_ROUTES = 0.15
_MOST_BATCHES = 100_000


def simulate(
    *,
    seed: int,
    until: date,
    ferns: Sequence[FernTruth] | int = 12,
    years: float = 2.0,
    active_trays: int = 60,
    checks: int | None = None,
    habits: Habits | None = None,
    outbreak: bool = True,
    rogue: bool = True,
    trays_per_batch: tuple[int, int] = (2, 5),
) -> Records:
    """Grow a nursery and return its records.

    Parameters
    ----------
    until : date
        The last day; nothing is dated later but orders and "come back on".
    ferns : sequence of FernTruth, or int
        The ferns with their true laws, or how many to draw from the seed (1 to 24).
    years : float
        How long before ``until`` the first batch may have started.
    active_trays : int
        Batches are started until at least so many trays still stand on the last day.
    checks : int, optional
        The most looks to keep: looks that say nothing new are left out at random beyond it. Those
        that tell something always stay, even where they alone are more.
    outbreak, rogue : bool
        Whether one mix is mouldy, and one lot holds strays (`Records.truth` names both).
    """
    habits = habits or Habits()
    chosen = default_ferns(ferns, seed=seed) if isinstance(ferns, int) else tuple(ferns)
    first = (until - timedelta(days=round(365.25 * years))).toordinal()
    grower = Grower(seed=seed, first=first, until=until.toordinal(), ferns=chosen, habits=habits)
    sowing = _Sowing(grower, trays_per_batch)
    standing = 0
    if outbreak:
        standing += _standing(sowing.outbreak(max(3, active_trays // 25)))
    if rogue:
        standing += _standing(sowing.rogue_lot(3))
    while standing < active_trays and len(grower.batches) < _MOST_BATCHES:
        standing += _standing([raise_batch(grower, sowing.plan())])
    return _written_down(grower, seed=seed, checks=checks)


def _standing(batches: Iterable[Batch]) -> int:
    return sum(tray.ended is None for batch in batches for tray in batch.trays)


def _written_down(grower: Grower, *, seed: int, checks: int | None) -> Records:
    trays: list[Tray] = [tray for batch in grower.batches for tray in batch.trays]
    layout = layout_for(trays)
    _open_orders(grower)

    def looked_over(grower: Grower, layout: Layout, trays: Iterable[Tray]) -> None:
        look_over(grower, layout, trays)
        if checks is not None:
            thin_out(grower, trays, most=checks)

    records = records_of(grower, layout, seed=seed, looked_over=looked_over)
    records.house_readings = house_readings(
        layout, first=grower.first, until=grower.until, seed=seed
    )
    records.treatments = treatments(grower, layout, seed=seed)
    return records


def _open_orders(grower: Grower) -> None:
    """Promise some pots for the weeks and months to come."""
    rng = grower.rng
    for _ in range(max(3, len(grower.batches) // 12)):
        fern = rng.choice(grower.ferns)
        grower.orders.append(
            Order(
                fern=fern, quantity=rng.choice((20, 40, 60, 100, 150)), pot_size=fern.pot_size,
                wanted_on=grower.until + rng.randint(5, 240), customer="Mossend Plant Yard",
            )
        )  # fmt: skip


class _Sowing:
    """What the nursery starts when, drawn from its drawer of spores."""

    def __init__(self, grower: Grower, trays_per_batch: tuple[int, int]) -> None:
        self.grower = grower
        self.least, self.most = trays_per_batch
        self.lots: dict[str, list[Lot]] = {fern.code: drawer(grower, fern) for fern in grower.ferns}
        self.rogue: Lot | None = None

    def plan(self) -> BatchPlan:
        """Return the next batch: a fern, a route, a day and an origin."""
        grower, rng = self.grower, self.grower.rng
        fern = rng.choice(grower.ferns)
        others = [route for route in fern.routes if route is not Route.SPORE]
        if others and (Route.SPORE not in fern.routes or rng.random() < _OTHER_ROUTES):
            return self._without_spores(fern, rng.choice(others))
        if fern.spore_kind == "green":
            return self._green(fern)
        day = grower.work.on_or_after(rng.randint(grower.first, grower.last_deed - 3))
        ripe = [lot for lot in self.lots[fern.code] if lot.collected_on + 7 <= day]
        if not ripe:
            return self._without_spores(fern, Route.BOUGHT_IN)
        lot = ripe[-1] if rng.random() < 0.8 else rng.choice(ripe)
        return self._sown(fern, day, lot)

    def outbreak(self, many: int) -> list[Batch]:
        """Start batches on one bad mix, some five months ago."""
        grower, rng = self.grower, self.grower.rng
        day = grower.work.on_or_after(grower.until - 150)
        medium: Medium = grower.medium("sowing", day)
        medium.mouldy, medium.temperature_c, medium.minutes = True, 48.0, 12.0
        day = max(day, medium.made_on)
        hardy = [fern for fern in grower.ferns if fern.spore_kind != "green"] or grower.ferns
        batches = []
        for _ in range(many):
            fern = rng.choice(hardy)
            ripe = [lot for lot in self.lots[fern.code] if lot.collected_on + 7 <= day]
            if ripe:
                plan = self._sown(fern, day, rng.choice(ripe), medium=medium)
                batches.append(raise_batch(grower, plan))
        return batches

    def rogue_lot(self, many: int) -> list[Batch]:
        """Start batches of one lot that holds another fern's spores."""
        grower, rng = self.grower, self.grower.rng
        lots = [
            lot
            for fern in grower.ferns
            if fern.spore_kind != "green"
            for lot in self.lots[fern.code]
            if grower.first - 60 <= lot.collected_on <= grower.until - 300
        ]
        if not lots:
            return []
        lot = rng.choice(lots)
        lot.rogue = True
        days = [max(grower.first, lot.collected_on + 8) + rng.randint(0, 90) for _ in range(many)]
        return [
            raise_batch(grower, self._sown(lot.origin.fern, grower.work.on_or_after(day), lot))
            for day in days
        ]

    def _green(self, fern: FernTruth) -> BatchPlan:
        grower, rng = self.grower, self.grower.rng
        lots = [
            lot
            for lot in self.lots[fern.code]
            if grower.first <= lot.collected_on <= grower.last_deed - 10
        ]
        if not lots:
            return self._without_spores(fern, Route.BOUGHT_IN)
        lot = rng.choice(lots)
        day = grower.work.on_or_after(lot.collected_on + rng.randint(2, 8))
        return self._sown(fern, min(day, grower.last_deed), lot)

    def _sown(
        self, fern: FernTruth, day: int, lot: Lot, *, medium: Medium | None = None
    ) -> BatchPlan:
        rng = self.grower.rng
        return BatchPlan(
            fern=fern, started=day, lot=lot, trays=rng.randint(self.least, self.most),
            medium=medium, control=rng.random() < self.grower.habits.control,
        )  # fmt: skip

    def _without_spores(self, fern: FernTruth, route: Route) -> BatchPlan:
        grower, rng = self.grower, self.grower.rng
        day = grower.work.on_or_after(rng.randint(grower.first, grower.last_deed - 3))
        kind = "purchase" if route is Route.BOUGHT_IN else "stock_plant"
        origin = next(
            (found for found in grower.origins if found.fern is fern and found.kind == kind), None
        ) or add_origin(grower, fern, kind, year=date.fromordinal(grower.first).year)
        return BatchPlan(
            fern=fern, started=min(day, grower.last_deed), route=route, origin=origin,
            trays=rng.randint(1, 3),
            quantity=rng.randint(20, 80) if route in (Route.DIVISION, Route.BOUGHT_IN) else 0,
            start_stage=Stage.POTTED_UP
            if route is Route.BOUGHT_IN and rng.random() < 0.3
            else None,
        )  # fmt: skip
