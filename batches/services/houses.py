"""Which houses and benches are there, how large, and in which order does one walk past them?"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Count, Max

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood
from batches.models import Bench, House, Tray
from batches.services.codes import take_own_code
from batches.services.free_places import bench_rooms
from batches.services.stored_forms import made_before, note_made

MOST_PLACES = 200
#: benches drawn at a time
MOST_ALIKE = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchLine:
    """A bench with what stands on it; ``free`` is None where its places are not drawn."""

    bench: Bench
    trays: int
    free: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class HouseLine:
    """A house with its benches in walking order."""

    house: House
    benches: tuple[BenchLine, ...]


def house_lines() -> tuple[HouseLine, ...]:
    """Return every house with its benches; houses as one walks past them, empty ones last."""
    standing = Tray.objects.active().filter(bench__isnull=False).values_list("bench")
    trays = Counter(dict(standing.annotate(many=Count("pk")).order_by()))
    benches: dict[int, list[BenchLine]] = {}
    for room in bench_rooms():
        line = BenchLine(bench=room.bench, trays=trays[room.bench.pk], free=room.free)
        benches.setdefault(room.bench.house_id, []).append(line)
    walked = {pk: place for place, pk in enumerate(benches)}
    houses = sorted(House.objects.all(), key=lambda house: walked.get(house.pk, len(walked)))
    return tuple(
        HouseLine(house=house, benches=tuple(benches.get(house.pk, ()))) for house in houses
    )


def build_house(
    *,
    code: str,
    now: datetime,
    name: str = "",
    light_note: str = "",
    temperature_note: str = "",
    frost_free: bool = False,
    record_id: UUID | None = None,
) -> House:
    """Store a new house; sent again with the same ``record_id``, nothing is stored twice.

    Raises
    ------
    BadCode, AlreadyTaken
        When the code cannot be one, or is taken.
    """
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="house")
        if again:
            return House.objects.get(code=again)
        kept = take_own_code(code=code, kind="house")
        note_made(record_id=record_id, kind="house", code=kept, now=now)
        return House.objects.create(
            code=kept,
            name=name.strip(),
            light_note=light_note.strip(),
            temperature_note=temperature_note.strip(),
            frost_free=frost_free,
        )


def change_house(
    *, house: House, name: str, light_note: str, temperature_note: str, frost_free: bool
) -> House:
    """Store what is noted of a house anew; its code stays."""
    house.name = name.strip()
    house.light_note = light_note.strip()
    house.temperature_note = temperature_note.strip()
    house.frost_free = frost_free
    house.save(update_fields=["name", "light_note", "temperature_note", "frost_free"])
    return house


def build_bench(
    *,
    house: House,
    code: str,
    now: datetime,
    name: str = "",
    rows: int | None = None,
    columns: int | None = None,
    after: Bench | None = None,
    first: bool = False,
    record_id: UUID | None = None,
) -> Bench:
    """Store a new bench, last in the walk unless it comes after another or first.

    Sent again with the same ``record_id``, nothing is stored twice.

    Raises
    ------
    BadCode, AlreadyTaken
        When the code cannot be one, or is taken.
    NotUnderstood
        When only one of rows and columns is given, or one is out of range.
    """
    _require_size(rows, columns)
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="bench")
        if again:
            return Bench.objects.get(code=again)
        kept = take_own_code(code=code, kind="bench")
        note_made(record_id=record_id, kind="bench", code=kept, now=now)
        last = Bench.objects.aggregate(last=Max("walk_order"))["last"]
        bench = Bench.objects.create(
            code=kept,
            house=house,
            name=name.strip(),
            rows=rows,
            columns=columns,
            walk_order=10 if last is None else last + 10,
        )
        if after is not None or first:
            set_in_walk(bench=bench, after=after)
            bench.refresh_from_db()
    return bench


def build_alike(*, bench: Bench, more: int, now: datetime) -> tuple[Bench, ...]:
    """Store ``more`` benches like one, after it in the walk; their codes count on from its own.

    From M1: M2, M3; from LOWER: LOWER2, LOWER3. Codes that are taken are passed over.

    Raises
    ------
    NotUnderstood
        When there would be more than `MOST_ALIKE`.
    """
    if not 0 <= more < MOST_ALIKE:
        raise NotUnderstood(f"Draw 1 to {MOST_ALIKE} benches at a time.", field="alike")
    stem = bench.code.rstrip("0123456789")
    digits = bench.code[len(stem) :]
    number, last = int(digits or 1), bench
    built: list[Bench] = []
    with transaction.atomic():
        while len(built) < more:
            number += 1
            try:
                last = build_bench(
                    house=bench.house,
                    code=f"{stem}{number:0{len(digits)}d}",
                    now=now,
                    name=bench.name,
                    rows=bench.rows,
                    columns=bench.columns,
                    after=last,
                )
            except AlreadyTaken:
                continue
            built.append(last)
    return tuple(built)


def change_bench(
    *, bench: Bench, house: House, name: str, rows: int | None, columns: int | None
) -> Bench:
    """Store what is noted of a bench anew; its code stays.

    Raises
    ------
    NotPossibleNow
        When a tray stands on a place that would vanish.
    NotUnderstood
        When only one of rows and columns is given, or one is out of range.
    """
    _require_size(rows, columns)
    with transaction.atomic():
        _require_room(bench, rows, columns)
        bench.house = house
        bench.name = name.strip()
        bench.rows, bench.columns = rows, columns
        bench.save(update_fields=["house", "name", "rows", "columns"])
    return bench


def set_in_walk(*, bench: Bench, after: Bench | None) -> None:
    """Put a bench into the walk behind another; at its beginning where none is named."""
    with transaction.atomic():
        others = [one for one in Bench.objects.in_walking_order() if one.pk != bench.pk]
        place = 0
        if after is not None:
            place = next(n for n, one in enumerate(others, start=1) if one.pk == after.pk)
        others.insert(place, bench)
        for number, one in enumerate(others, start=1):
            one.walk_order = 10 * number
        Bench.objects.bulk_update(others, ["walk_order"], batch_size=200)


def comes_after(bench: Bench) -> Bench | None:
    """Return the bench that one passes before this one; None for the first."""
    before = None
    for one in Bench.objects.in_walking_order():
        if one.pk == bench.pk:
            return before
        before = one
    return None


def _require_size(rows: int | None, columns: int | None) -> None:
    for name, number in (("rows", rows), ("columns", columns)):
        if number is not None and not 1 <= number <= MOST_PLACES:
            raise NotUnderstood(f"A bench has 1 to {MOST_PLACES} {name}.", field=name)
    if (rows is None) != (columns is None):
        missing = "rows" if rows is None else "columns"
        raise NotUnderstood(
            "Give rows and columns both, or neither: then trays stand on it without a place.",
            field=missing,
        )


def _require_room(bench: Bench, rows: int | None, columns: int | None) -> None:
    placed = Tray.objects.active().filter(bench=bench, row__isnull=False, column__isnull=False)
    outside = [
        tray.code
        for tray in placed.order_by("code")
        if rows is None or columns is None or (tray.row or 0) > rows or (tray.column or 0) > columns
    ]
    if outside:
        more = f" and {len(outside) - 1} more" if len(outside) > 1 else ""
        raise NotPossibleNow(
            f"Tray {outside[0]}{more} would stand outside the bench. Nothing was changed; move "
            "them first.",
            field="rows",
        )
