"""Which stock plants does the nursery own, and which spores lie in its drawer?"""

from __future__ import annotations

from datetime import date

from tests.simulate import notes
from tests.simulate.ferns import FernTruth
from tests.simulate.grower import Grower
from tests.simulate.stock import Lot, Origin

_STORAGE = ("glassine in the fridge, 4 °C, with silica gel", "paper packet, fridge, 4 °C")


def add_origin(grower: Grower, fern: FernTruth, kind: str, *, year: int) -> Origin:
    """Note an origin of a fern; `year` is the one in which it was entered."""
    origin = Origin(fern=fern, kind=kind, entered=year)
    if kind == "wild":
        origin.provenance = "W"
        origin.locality = "Hag Wood, upper Ashlinn Water, north bank"
        origin.permit = f"landowner's letter {year}"
    elif kind in ("exchange", "purchase"):
        origin.provenance = "U"
        origin.supplier = grower.rng.choice(notes.SUPPLIERS)
        if kind == "purchase":
            origin.passport = f"ZZ-{grower.rng.randint(10000, 99999)}"
    grower.origins.append(origin)
    return origin


def collect(grower: Grower, origin: Origin, day: int, *, tested: bool = True) -> Lot:
    """Collect spores on that day: dried, cleaned, and tested where there was time."""
    rng, green = grower.rng, origin.fern.spore_kind == "green"
    cleaned = day + (rng.randint(1, 2) if green else rng.randint(4, 6))
    lot = Lot(
        origin=origin, collected_on=day, by=grower.somebody(),
        method=rng.choice(("fronds in paper", "fronds in paper", "scraped")),
        ripeness="green and shedding" if green else rng.choice(("brown, half shed", "dark, ripe")),
        drying_since=day, cleaned_on=cleaned if cleaned <= grower.last_deed else None,
    )  # fmt: skip
    if lot.cleaned_on is not None:
        lot.mass_mg = float(rng.randint(8, 190))
        lot.storage = "zip bag in the fridge, sow at once" if green else rng.choice(_STORAGE)
        if tested:
            sow_a_sample(grower, lot, lot.cleaned_on + rng.randint(1, 12))
    grower.lots.append(lot)
    return lot


def sow_a_sample(grower: Grower, lot: Lot, sown: int, *, share: float | None = None) -> None:
    """Sow a sample and count it; nothing is noted when the count lies past the last day."""
    rng, green = grower.rng, lot.origin.fern.spore_kind == "green"
    counted_on = grower.work.on_or_after(
        sown + (rng.randint(4, 8) if green else rng.randint(16, 30))
    )
    if counted_on > grower.last_deed:
        return
    chance = rng.betavariate(6, 3) if share is None else share
    counted = rng.choice((200, 300, 300, 400))
    germinated = sum(rng.random() < chance for _ in range(counted))
    lot.tests.append((sown, counted_on, counted, germinated))


def ripe_days(fern: FernTruth, first: int, last: int) -> list[tuple[int, int]]:
    """Return the first and last ripe day of every season that lies wholly in the time."""
    seasons = []
    for year in range(date.fromordinal(first).year, date.fromordinal(last).year + 1):
        begin = date.fromisocalendar(year, fern.ripe[0], 1).toordinal()
        end = date.fromisocalendar(year, fern.ripe[1], 5).toordinal()
        if first <= begin and end <= last:
            seasons.append((begin, end))
    return seasons


def drawer(grower: Grower, fern: FernTruth) -> list[Lot]:
    """Fill the drawer with a lot or two of every season from a year before the first day on."""
    plant = add_origin(grower, fern, "stock_plant", year=date.fromordinal(grower.first).year - 1)
    other = add_origin(
        grower, fern, grower.rng.choice(("wild", "exchange", "pooled", "stock_plant")),
        year=date.fromordinal(grower.first).year - 1,
    )  # fmt: skip
    lots = []
    for begin, end in ripe_days(fern, grower.first - 370, grower.last_deed):
        for origin in (plant, other)[: grower.rng.choice((1, 2))]:
            day = grower.work.on_or_after(grower.rng.randint(begin, end))
            lots.append(collect(grower, origin, min(day, end)))
    return lots
