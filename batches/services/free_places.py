"""Which places of the benches are free?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from batches.models import Bench, Tray


@dataclass(frozen=True, slots=True, kw_only=True)
class FreePlace:
    """A place on a bench where nothing stands; rows and columns count from 1."""

    row: int
    column: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchRoom:
    """A bench and how many of its places are free; None when it has no drawn places."""

    bench: Bench
    free: int | None


def free_places(*, bench: Bench, most: int) -> tuple[FreePlace, ...]:
    """Return the first free places of a bench, row by row; empty when it has no drawn places."""
    if not bench.rows or not bench.columns:
        return ()
    taken = set(
        Tray.objects.active()
        .filter(bench=bench, row__isnull=False, column__isnull=False)
        .values_list("row", "column")
    )
    found = (
        FreePlace(row=row, column=column)
        for row in range(1, bench.rows + 1)
        for column in range(1, bench.columns + 1)
        if (row, column) not in taken
    )
    return tuple(place for place, _ in zip(found, range(most), strict=False))


def bench_rooms() -> tuple[BenchRoom, ...]:
    """Return every bench in walking order with its free places; two queries."""
    taken: defaultdict[int, set[tuple[int, int]]] = defaultdict(set)
    standing = Tray.objects.active().filter(row__isnull=False, column__isnull=False)
    for bench_id, row, column in standing.values_list("bench_id", "row", "column"):
        if bench_id is not None and row is not None and column is not None:
            taken[bench_id].add((row, column))
    benches = Bench.objects.in_walking_order().select_related("house")
    return tuple(
        BenchRoom(
            bench=bench,
            free=bench.rows * bench.columns - len(taken[bench.pk])
            if bench.rows and bench.columns
            else None,
        )
        for bench in benches
    )
