"""Which places of the benches are free?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import F, Sum

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


def places_for(
    *, how_many: int, bench: Bench, go_on: bool
) -> tuple[tuple[Bench, FreePlace | None], ...]:
    """Return where that many trays are set down, from the free places of a bench on.

    Parameters
    ----------
    go_on : bool
        When the bench is full, the next benches in walking order follow.

    Returns
    -------
    tuple of (Bench, FreePlace or None)
        One for each tray; what finds no free place stands loose on the bench that was named.
    """
    found: list[tuple[Bench, FreePlace | None]] = []
    for one in _from_on(bench) if go_on else [bench]:
        places = free_places(bench=one, most=how_many - len(found))
        found += [(one, place) for place in places]
        if len(found) == how_many:
            break
    found += [(bench, None)] * (how_many - len(found))
    return tuple(found)


def _from_on(bench: Bench) -> Iterator[Bench]:
    """Yield the bench and those that come behind it in the walk."""
    reached = False
    for one in Bench.objects.in_walking_order().select_related("house"):
        reached = reached or one.pk == bench.pk
        if reached:
            yield one


def count_free(*, bench: Bench) -> int | None:
    """Return how many places of a bench are free; None when it has no drawn places."""
    if not bench.rows or not bench.columns:
        return None
    return len(free_places(bench=bench, most=bench.rows * bench.columns))


def bench_rooms() -> tuple[BenchRoom, ...]:
    """Return every bench in walking order with its free places; two queries."""
    taken: defaultdict[int, set[tuple[int, int]]] = defaultdict(set)
    placed = Tray.objects.active().filter(row__isnull=False, column__isnull=False)
    for bench_id, row, column in placed.values_list("bench_id", "row", "column"):
        taken[bench_id or 0].add((row or 0, column or 0))
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


def free_places_of_all() -> int:
    """Return how many drawn places of all benches are free; two queries."""
    drawn = Bench.objects.aggregate(all=Sum(F("rows") * F("columns")))["all"] or 0
    placed = Tray.objects.active().filter(
        bench__rows__gte=F("row"), bench__columns__gte=F("column")
    )
    return drawn - placed.order_by().values("bench", "row", "column").distinct().count()
