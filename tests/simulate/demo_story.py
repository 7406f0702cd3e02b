"""What happened at Hollowmere Ferns in the two years before the demo's reference day?

The invented nursery's origins, lots and sowings are written out by hand; what follows from them
(looks, losses, pickings, sales) is grown from a seed. The stories: a mix that was not heated long
enough and moulded in April 2026, a crested lot with strays in it, royal fern spores that came dead
by post, a frost in January 2026, and everything that goes wrong by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from batches.core.stages import Route, Stage
from tests.simulate.benches import BenchPlan, HousePlan, Layout
from tests.simulate.stock import Fate

REFERENCE_DAY = date(2026, 11, 25)
FIRST_DAY = date(2024, 9, 2)
FATE = Fate

LAYOUT = Layout(
    houses=(
        HousePlan(code="H1", name="Sowing house", warmth=1.0),
        HousePlan(code="H2", name="Growing house", warmth=0.35),
        HousePlan(code="H3", name="Cold house and frames"),
    ),
    benches=tuple(
        BenchPlan(
            code=f"{house}-{letter}", house=house, name=name, rows=rows, columns=columns,
            zone=zone, walk_order=order,
        )
        for house, letter, name, rows, columns, zone, order in (
            ("H1", "A", "Door side", 4, 9, "covered", 10),
            ("H1", "B", "Middle", 4, 9, "covered", 20),
            ("H1", "C", "Quarantine shelf", 2, 5, "isolation", 90),
            ("H2", "A", "North bench", 4, 8, "cells", 30),
            ("H2", "B", "South bench", 4, 8, "cells", 40),
            ("H3", "A", "Long bench, left", 4, 10, "pots", 50),
            ("H3", "B", "Long bench, right", 4, 10, "pots", 60),
            ("H3", "C", "Frames", 3, 10, "frames", 70),
            ("H3", "D", "Stock plants", 2, 10, "stock", 80),
        )
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class OriginStory:
    """An origin as written in the story; ``parts`` go to the origin's fields."""

    key: str
    fern: str
    kind: str
    year: int
    parts: dict[str, Any]


def _origin(key: str, fern: str, kind: str, year: int, **parts: Any) -> OriginStory:
    return OriginStory(key=key, fern=fern, kind=kind, year=year, parts=parts)


_HAG_WOOD = "Hag Wood, upper Ashlinn Water, wet oak wood"
ORIGINS = (
    _origin("osm", "OSMREG", "stock_plant", 2024, bench="H3-D",
            notes="Two crowns by the north tank, never divided."),
    _origin("osm-x", "OSMREG", "exchange", 2026, provenance="U",
            supplier="Skerrawick Fern Exchange",
            notes="Packet was three weeks in the post, in July."),
    _origin("mat", "MATSTR", "stock_plant", 2024, bench="H3-D", notes="The old one from the yard."),
    _origin("mat-2", "MATSTR", "stock_plant", 2026, bench="H3-D",
            notes="By the gate. Fertile fronds for the first time this year."),
    _origin("ono", "ONOSEN", "stock_plant", 2024, bench="H3-D"),
    _origin("dry", "DRYFIL", "wild", 2024, provenance="W", locality=_HAG_WOOD,
            permit="Owner's letter of June 2024, fronds only"),
    _origin("dry-2", "DRYFIL", "stock_plant", 2025, bench="H3-D", provenance="Z",
            notes="Raised from Hag Wood spores, strongest of the first lot."),
    _origin("cri", "DRYAFF-CRI", "stock_plant", 2024, bench="H3-D"),
    _origin("ery", "DRYERY", "pooled", 2024, mothers="four plants on the south bed"),
    _origin("ath", "ATHFIL", "pooled", 2024, mothers="three plants under the wall"),
    _origin("nip", "ATHNIP-PIC", "stock_plant", 2024, bench="H3-D",
            notes="Red form by the tank. Split every second March."),
    _origin("her", "POLSET-HER", "stock_plant", 2024, bench="H3-D",
            notes="Fronds laid in October, five at most from each crown."),
    _origin("plu", "POLSET-PLU", "stock_plant", 2024, bench="H3-D"),
    _origin("acu", "POLACU", "wild", 2024, provenance="W",
            locality="Ravine below Dool Force, Ashlinn Water",
            permit="Owner's letter of June 2024, fronds only"),
    _origin("asp", "ASPSCO", "stock_plant", 2024, bench="H3-D"),
    _origin("tri", "ASPTRI", "wild", 2024, provenance="W",
            locality="Lime mortar of the old weir, Ashlinn Bridge",
            permit="Water board, by telephone, noted 3 June 2024"),
    _origin("spi", "STRSPI", "wild", 2024, provenance="W", locality="Peat bank above Hag Wood",
            permit="Owner's letter of June 2024, fronds only"),
    _origin("adi", "ADIVEN", "purchase", 2025, provenance="G", supplier="Tarnhow Young Plants",
            passport="ZZ-40718"),
    _origin("adi-2", "ADIVEN", "purchase", 2026, provenance="G", supplier="Lowthwaite Liners",
            passport="ZZ-51266"),
    _origin("dic", "DICANT", "exchange", 2025, provenance="U",
            supplier="Skerrawick Fern Exchange", notes="Papers in the blue folder."),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class LotStory:
    """A lot as written in the story; ``parts`` replace what was made up for it."""

    key: str
    origin: str
    day: str
    parts: dict[str, Any]


def _lot(key: str, origin: str, day: str, **parts: Any) -> LotStory:
    return LotStory(key=key, origin=origin, day=day, parts=parts)


LOTS = (
    _lot("ath24", "ath", "2024-08-20"),
    _lot("dry24", "dry", "2024-08-26", notes="Good drop, hardly any chaff."),
    _lot("asp24", "asp", "2024-09-11"),
    _lot("ery24", "ery", "2024-09-17"),
    _lot("cri24", "cri", "2024-08-30", rogue=True,
         notes="Dried on the same shelf as the buckler fronds. Regretted since."),
    _lot("acu24", "acu", "2024-08-28"),
    _lot("tri24", "tri", "2024-09-04"),
    _lot("spi24", "spi", "2024-09-25"),
    _lot("ono24", "ono", "2024-11-27"),
    _lot("mat24", "mat", "2024-12-04"),
    _lot("dic25", "dic", "2025-02-06", method="received", drying_since=None, cleaned_on=None,
         ripeness="not known", notes="Came as a clean packet."),
    _lot("osm25", "osm", "2025-06-13", notes="Sown four days later, still bright green."),
    _lot("osm25b", "osm", "2025-06-27"),
    _lot("acu25", "acu", "2025-08-20"),
    _lot("dry25", "dry-2", "2025-09-02"),
    _lot("cri25", "cri", "2025-08-27", notes="Own shelf this time."),
    _lot("ath25", "ath", "2025-08-22"),
    _lot("ery25", "ery", "2025-09-24"),
    _lot("asp25", "asp", "2025-10-01"),
    _lot("spi25", "spi", "2025-10-02"),
    _lot("tri25", "tri", "2025-09-05"),
    _lot("ono25", "ono", "2025-11-12"),
    _lot("mat25", "mat", "2025-11-28"),
    _lot("osm26", "osm", "2026-06-11"),
    _lot("osm26x", "osm-x", "2026-07-29", method="received", drying_since=None, cleaned_on=None,
         ripeness="green, a little grey", storage="zip bag in the fridge",
         tests=[(date(2026, 7, 31).toordinal(), date(2026, 8, 7).toordinal(), 300, 3)],
         notes="Day of arrival. Gathered early July, they say."),
    _lot("acu26", "acu", "2026-08-25"),
    _lot("ath26", "ath", "2026-08-28"),
    _lot("dry26", "dry-2", "2026-09-01"),
    _lot("spi26", "spi", "2026-09-30"),
    _lot("asp26", "asp", "2026-10-07"),
    _lot("ono26", "ono", "2026-11-12", notes="Half still in the bag. Sow the rest at once."),
    _lot("asp26b", "asp", "2026-11-17", cleaned_on=None, mass_mg=None, storage="", tests=[],
         notes="Late fronds, laid out in the office."),
    _lot("mat26", "mat", "2026-11-19"),
    _lot("ery26", "ery", "2026-11-20", cleaned_on=None, mass_mg=None, storage="", tests=[],
         notes="Last ripe frond of the year, not much."),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Sowing:
    """A batch as written in the story; ``parts`` go to the batch's plan."""

    day: str
    fern: str
    origin: str
    trays: int
    parts: dict[str, Any]


def _sow(day: str, fern: str, origin: str, trays: int, **parts: Any) -> Sowing:
    """Sow a lot, or start from the origin of that key on another route."""
    return Sowing(day=day, fern=fern, origin=origin, trays=trays, parts=parts)


_EX_CRISTATA = "Dryopteris affinis ex 'Cristata'"
_DEAD = FATE(stalls_in=Stage.SOWN, undecided=True)
_SAFE = FATE(safe=True)
SOWINGS = (
    _sow("2024-09-10", "ATHFIL", "ath24", 3),
    _sow("2024-09-24", "DRYFIL", "dry24", 4, control=True,
         notes="First sowing in the rebuilt house."),
    _sow("2024-10-08", "ASPSCO", "asp24", 3),
    _sow("2024-10-15", "POLSET-HER", "her", 3, route=Route.BULBIL),
    _sow("2024-10-22", "POLSET-PLU", "plu", 2, route=Route.BULBIL),
    _sow("2024-11-05", "DRYAFF-CRI", "cri24", 3, sold_as=_EX_CRISTATA),
    _sow("2024-11-19", "POLACU", "acu24", 3),
    _sow("2024-11-29", "ONOSEN", "ono24", 3),
    _sow("2024-12-06", "MATSTR", "mat24", 3),
    _sow("2025-01-14", "DRYERY", "ery24", 3),
    _sow("2025-01-21", "STRSPI", "spi24", 3),
    _sow("2025-02-04", "ASPTRI", "tri24", 3),
    _sow("2025-02-11", "DRYFIL", "dry24", 4,
         fates={3: FATE(ends_after=74, cause="dry")}),
    _sow("2025-02-18", "DICANT", "dic25", 2, fates={1: _SAFE}),
    _sow("2025-03-11", "ATHFIL", "ath24", 3),
    _sow("2025-03-18", "ATHNIP-PIC", "nip", 2, route=Route.DIVISION, quantity=28),
    _sow("2025-03-25", "ADIVEN", "adi", 2, route=Route.BOUGHT_IN, quantity=84,
         notes="Soft when they came, shaded for a fortnight."),
    _sow("2025-04-08", "ASPSCO", "asp24", 3),
    _sow("2025-04-29", "DRYAFF-CRI", "cri24", 3, sold_as=_EX_CRISTATA,
         fates={2: FATE(rogue=True)}),
    _sow("2025-06-17", "OSMREG", "osm25", 3),
    _sow("2025-07-01", "OSMREG", "osm25b", 1),
    _sow("2025-09-09", "DRYERY", "ery24", 2),
    _sow("2025-09-16", "POLACU", "acu25", 3),
    _sow("2025-09-30", "POLSET-HER", "her", 3, route=Route.BULBIL),
    _sow("2025-10-14", "ASPSCO", "asp25", 3),
    _sow("2025-10-28", "DRYFIL", "dry25", 3,
         fates={2: FATE(stalls_in=Stage.GAMETOPHYTE, undecided=True)},
         cell_fates={1: FATE(stalls_in=Stage.PRICKED_OUT)},
         notes="Tray 2 sits there like felt. Patch it out?"),
    _sow("2025-11-14", "ONOSEN", "ono25", 2),
    _sow("2025-12-02", "MATSTR", "mat25", 2),
    _sow("2026-01-13", "ATHFIL", "ath25", 3),
    _sow("2026-01-27", "STRSPI", "spi25", 3, fates={2: FATE(stalls_in=Stage.SOWN)}),
    _sow("2026-02-10", "DRYAFF-CRI", "cri25", 3, sold_as=_EX_CRISTATA),
    _sow("2026-02-24", "ASPTRI", "tri24", 2),
    _sow("2026-03-10", "ATHNIP-PIC", "nip", 2, route=Route.DIVISION, quantity=32),
    _sow("2026-03-24", "ADIVEN", "adi-2", 1, route=Route.BOUGHT_IN, quantity=40,
         start_stage=Stage.POTTED_UP),
    _sow("2026-04-07", "POLACU", "acu25", 3, mouldy=True,
         fates={1: FATE(mould_after=17, mould_kills=True), 2: FATE(mould_after=23)},
         notes="Mix was hurried, only twelve minutes at heat."),
    _sow("2026-04-08", "DRYERY", "ery25", 2, mouldy=True,
         fates={1: FATE(mould_after=15), 2: FATE(mould_after=31, mould_kills=True)}),
    _sow("2026-04-09", "DRYFIL", "dry25", 2, mouldy=True,
         fates={1: FATE(mould_after=20, mould_kills=False), 2: _SAFE}),
    _sow("2026-05-05", "ASPTRI", "tri25", 3, fates={2: _DEAD},
         notes="The one in the middle had the bottom of the packet."),
    _sow("2026-06-16", "OSMREG", "osm26", 3, fates={1: _SAFE}, control=True),
    _sow("2026-08-04", "OSMREG", "osm26x", 2, fates={1: _DEAD, 2: _DEAD},
         notes="Spores looked grey. Worth a try, said Sunniva."),
    _sow("2026-09-15", "DRYFIL", "dry26", 3,
         fates={2: FATE(mould_after=58, mould_kills=False)}),
    _sow("2026-09-29", "POLSET-HER", "her", 2, route=Route.BULBIL, fates={1: _SAFE}),
    _sow("2026-10-13", "POLSET-PLU", "plu", 1, route=Route.BULBIL),
    _sow("2026-10-20", "ASPSCO", "asp26", 3, control=True),
    _sow("2026-11-03", "ATHFIL", "ath26", 2),
    _sow("2026-11-17", "ONOSEN", "ono26", 1),
)  # fmt: skip

# A sporeling kept back becomes a batch of its own, whose origin is the tray it was found in.
SELECTION = Sowing(
    day="2026-03-17", fern="DRYFIL", origin="2024-09-24", trays=1,
    parts={
        "route": Route.DIVISION, "quantity": 5, "fates": {1: _SAFE},
        "sold_as": "Dryopteris filix-mas, crested selection",
        "notes": "The crested one kept back by Petra. Split into five.",
    },
)  # fmt: skip

# fern, pots, size, day, customer
OPEN_ORDERS = (
    ("ASPSCO", 60, "9 cm", "2026-12-02", "Mossend Plant Yard"),
    ("DRYFIL", 80, "9 cm", "2026-12-09", "Rillside Landscapes"),
    ("POLSET-HER", 40, "9 cm", "2026-12-16", "Walled garden at Corriemoss"),
    ("ATHNIP-PIC", 24, "9 cm", "2027-04-14", "Pellow and Daughters"),
    ("OSMREG", 50, "1 L", "2027-05-05", "Thrushgill Garden"),
    ("MATSTR", 60, "1 L", "2027-04-28", "Rillside Landscapes"),
    ("ASPTRI", 30, "9 cm", "2027-03-31", "Market stall, Ashlinn Bridge"),
    ("STRSPI", 45, "9 cm", "2027-05-19", "Dunnoch Woodland Trust"),
    ("DICANT", 6, "1 L", "2027-06-16", "Thrushgill Garden"),
)

# day, time, product, rate, where, hours of re-entry
TREATMENTS = (
    ("2025-04-15", "16:40", "nematodes (Steinernema feltiae)", "as on the pack", "H1-A H1-B", 0),
    ("2025-05-20", "17:10", "iron phosphate slug pellets", "as on its label", "H3", 0),
    ("2025-07-08", "18:00", "fatty-acid soap spray", "as on its label", "H2-B", 12),
    ("2025-09-02", "16:20", "nematodes (Steinernema kraussei)", "as on the pack", "H3-A H3-B", 0),
    ("2026-03-17", "16:30", "nematodes (Steinernema feltiae)", "as on the pack", "H1", 0),
    ("2026-05-12", "17:00", "predatory mite (Stratiolaelaps)", "as on the bottle", "H2", 0),
    ("2026-07-21", "18:15", "fatty-acid soap spray", "as on its label", "H3-A", 12),
    ("2026-09-08", "16:45", "nematodes (Steinernema kraussei)", "as on the pack", "H3-A H3-B", 0),
    ("2026-11-24", "16:50", "fatty-acid soap spray", "as on its label", "H2", 24),
)

# house, day, lowest, highest: nights that stand out
COLD_NIGHTS = (
    ("H3", "2026-01-08", -4.6, 3.1),
    ("H3", "2026-01-09", -5.8, 2.4),
    ("H2", "2026-01-09", 0.4, 7.9),
    ("H3", "2026-11-24", -1.9, 4.2),
)
