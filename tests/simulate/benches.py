"""Where does each simulated tray stand, so that no two share a place?

A sweep over all starts, moves and ends gives each tray the first free place of the part of the
nursery it belongs in; a place that falls free is taken again from the next day on.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from batches.core.codes import CHECK_LETTERS
from tests.simulate.stock import Tray

ZONES = ("covered", "isolation", "cells", "pots", "frames")
_LEAVE, _ENTER = 0, 1


@dataclass(frozen=True, slots=True, kw_only=True)
class HousePlan:
    """A glasshouse or frame."""

    code: str
    name: str
    warmth: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPlan:
    """A bench of rows × columns and the part of the nursery it serves."""

    code: str
    house: str
    name: str
    rows: int
    columns: int
    zone: str
    walk_order: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Houses and their benches."""

    houses: tuple[HousePlan, ...]
    benches: tuple[BenchPlan, ...]


def layout_for(trays: Iterable[Tray], *, rows: int = 6, columns: int = 10) -> Layout:
    """Return houses and benches with room for every tray on every day."""
    peaks = _peaks(trays)
    houses: list[HousePlan] = []
    benches: list[BenchPlan] = []
    per_house = len(CHECK_LETTERS)
    for zone in ZONES:
        wanted = -(-(peaks[zone] + 2) // (rows * columns))
        for number in range(wanted):
            if number % per_house == 0:
                house = HousePlan(
                    code=f"H{len(houses) + 1}",
                    name=f"House {len(houses) + 1}, {zone}",
                    warmth=1.0 if zone == "covered" else 0.0,
                )
                houses.append(house)
            letter = CHECK_LETTERS[number % per_house]
            benches.append(
                BenchPlan(
                    code=f"{houses[-1].code}-{letter}",
                    house=houses[-1].code,
                    name=f"{zone} {number + 1}",
                    rows=rows,
                    columns=columns,
                    zone=zone,
                    walk_order=10 * (len(benches) + 1),
                )
            )
    return Layout(houses=tuple(houses), benches=tuple(benches))


def _steps(trays: Iterable[Tray]) -> Iterator[tuple[int, int, int, Tray, str]]:
    """Yield every step of every tray; leaving counts from the day after."""
    for place, tray in enumerate(trays):
        for number, (day, zone) in enumerate(tray.zones):
            yield day, _ENTER, place, tray, zone
            following = tray.zones[number + 1][0] if number + 1 < len(tray.zones) else tray.ended
            if following is not None:
                yield following + 1, _LEAVE, place, tray, zone


def _peaks(trays: Iterable[Tray]) -> dict[str, int]:
    standing: dict[str, int] = defaultdict(int)
    peaks: dict[str, int] = defaultdict(int)
    for _, step, _, _, zone in sorted(_steps(trays), key=lambda step: step[:3]):
        standing[zone] += 1 if step == _ENTER else -1
        peaks[zone] = max(peaks[zone], standing[zone])
    return peaks


def stand(trays: Sequence[Tray], layout: Layout) -> None:
    """Give every tray its places in turn; where all is full, a bench without row and column."""
    free: dict[str, list[tuple[int, int, int, str]]] = defaultdict(list)
    for bench in layout.benches:
        free[bench.zone] += [
            (bench.walk_order, row, column, bench.code)
            for row in range(1, bench.rows + 1)
            for column in range(1, bench.columns + 1)
        ]
    for places in free.values():
        heapq.heapify(places)
    held: dict[tuple[int, str], list[tuple[int, int, int, str]]] = defaultdict(list)
    last_of = {bench.zone: bench.code for bench in layout.benches}
    for day, step, number, tray, zone in sorted(_steps(trays), key=lambda step: step[:3]):
        if step == _LEAVE:
            for place in held[number, zone][:1]:
                heapq.heappush(free[zone], place)
            del held[number, zone][:1]
        elif free[zone]:
            place = heapq.heappop(free[zone])
            held[number, zone].append(place)
            tray.stood.append((day, place[3], place[1], place[2]))
        else:
            tray.stood.append((day, last_of.get(zone, layout.benches[-1].code), None, None))
