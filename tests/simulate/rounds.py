"""What else is written down in a nursery: benches looked over, temperatures, treatments?"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from datetime import date
from random import Random
from typing import Any

from tests.simulate import notes
from tests.simulate.benches import HousePlan, Layout
from tests.simulate.days import iso, moment
from tests.simulate.grower import Grower
from tests.simulate.looked import Ids
from tests.simulate.stock import Look, Tray
from tests.simulate.tables import ROW

_AFTERNOON = 15 * 3600 + 1800
PRODUCTS = (
    ("nematodes (Steinernema feltiae)", "as on the pack", 0.0),
    ("predatory mite (Stratiolaelaps)", "as on the bottle", 0.0),
    ("fatty-acid soap spray", "as on its label", 12.0),
    ("iron phosphate slug pellets", "as on its label", 0.0),
)


def look_over(grower: Grower, layout: Layout, trays: Iterable[Tray]) -> None:
    """Add glances: a bench looked over at one moment, trays set apart left out.

    Needs the trays' places. A glance proves no stage and holds no count.
    """
    rng = grower.rng
    rounds: dict[str, list[tuple[int, int, str, str]]] = {}
    for bench in layout.benches:
        days = []
        for week in range(grower.first, grower.until - 2, 7):
            if bench.zone == "isolation" or rng.random() >= grower.habits.glance_rounds:
                continue
            day = grower.work.on_or_after(week + rng.randint(0, 4))
            if day <= grower.until:
                second = _AFTERNOON + rng.randint(0, 3600)
                days.append((day, second, grower.somebody(), rng.choice(notes.GLANCES)))
        rounds[bench.code] = sorted(set(days))
    for tray in trays:
        _glance_at(tray, rounds, grower.until)


def _glance_at(tray: Tray, rounds: dict[str, list[tuple[int, int, str, str]]], until: int) -> None:
    looked = {look.day for look in tray.looks}
    for place, (since, bench, _, _) in enumerate(tray.stood):
        left = (
            tray.stood[place + 1][0] if place + 1 < len(tray.stood) else (tray.ended or until + 1)
        )
        days = rounds.get(bench, [])
        here = days[bisect_left(days, (since + 1,)) : bisect_right(days, (left - 1, 86400))]
        for day, second, by, note in here:
            if day not in looked:
                tray.looks.append(
                    Look(tray=tray, day=day, second=second, by=by, glance=True, note=note)
                )


def thin_out(grower: Grower, trays: Iterable[Tray], *, most: int) -> None:
    """Leave out looks that say nothing new, at random, until at most so many are left.

    Looks that first show a stage, hold a count, a sign, a loss or a note stay, and so each
    tray's last one.
    """
    trays = list(trays)
    plain = [
        look
        for tray in trays
        for look in sorted(tray.looks, key=lambda look: (look.day, look.second))[:-1]
        if _says_nothing_new(look)
    ]
    surplus = sum(len(tray.looks) for tray in trays) - most
    if surplus <= 0:
        return
    gone = {id(look) for look in grower.rng.sample(plain, min(surplus, len(plain)))}
    for tray in trays:
        tray.looks = [look for look in tray.looks if id(look) not in gone]


def _says_nothing_new(look: Look) -> bool:
    return not (look.keep or look.signs or look.note or look.strikes) and look.count is None


def house_readings(layout: Layout, *, first: int, until: int, seed: int) -> list[Any]:
    """Return the lowest and highest temperature of every house and day, cold nights in between."""
    rows = []
    for house in layout.houses:
        rng = Random(f"{seed} {house.code}")
        spell = 0.0
        for day in range(first, until):
            spell = 0.7 * spell + rng.gauss(0, 1.6)
            rows.append(_reading(house, day, spell, rng))
    return sorted(rows, key=lambda row: (row.on, row.house))


def _reading(house: HousePlan, day: int, spell: float, rng: Random) -> Any:
    season = -math.cos(2 * math.pi * (date.fromordinal(day).timetuple().tm_yday - 20) / 365.25)
    lowest = 6.0 + 6.5 * season + spell
    highest = 14.0 + 8.5 * season + spell + rng.uniform(0, 5)
    lowest += (14.5 - lowest) * house.warmth * 0.9
    highest += max(0.0, 17.5 - highest) * house.warmth
    return ROW["house_readings"](
        house=house.code, on=iso(day), lowest_c=f"{lowest:.1f}",
        highest_c=f"{max(highest, lowest + 1):.1f}",
    )  # fmt: skip


def treatments(grower: Grower, layout: Layout, *, seed: int, every: int = 60) -> list[Any]:
    """Return treatments about every so many days, each on one bench or house."""
    rng, ids = Random(seed + 3), Ids(seed + 4)
    places = [house.code for house in layout.houses] + [bench.code for bench in layout.benches]
    rows = []
    for start in range(grower.first, grower.last_deed - 2, every):
        day = grower.work.on_or_after(start + rng.randint(0, every // 2))
        if day > grower.last_deed:
            continue
        product, rate, hours = rng.choice(PRODUCTS)
        rows.append(
            ROW["treatments"](
                id=ids.fresh(), done_at=moment(day, 16 * 3600 + 1800), product=product, rate=rate,
                place_or_trays=rng.choice(places), operator=grower.somebody(),
                reentry_hours=f"{hours:g}",
            )
        )  # fmt: skip
    return sorted(rows, key=lambda row: (row.done_at, row.id))
