"""Where does a tray stand from a day on?"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Q
from django.db.models.functions import Coalesce

from batches.core.errors import AlreadyTaken, NotPossibleNow, NotUnderstood
from batches.models import Bench, Place, Tray
from batches.services.days import day_words, local_day
from batches.services.tray_life import (
    in_a_row,
    require_day,
    require_since,
    require_standing,
    take_all,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place for a tray; without a bench its place is not known, without row it is anywhere."""

    bench: Bench | None = None
    row: int | None = None
    column: int | None = None

    @property
    def words(self) -> str:
        """As sentences name it: “bench B02, row 1, column 3”."""
        if self.bench is None:
            return "a place not known"
        words = f"bench {self.bench.code}"
        if self.row is not None:
            words += f", row {self.row}"
        if self.column is not None:
            words += f", column {self.column}"
        return words


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveResult:
    """What stands elsewhere now; ``swapped`` is the tray that made room by changing places."""

    moved: tuple[Tray, ...]
    swapped: Tray | None
    created: bool
    message: str


def move(
    *,
    trays: Sequence[Tray],
    bench: Bench | None,
    row: int | None = None,
    column: int | None = None,
    on: date,
    by: str,
    now: datetime,
    swap: bool = False,
    stack: bool = False,
    record_id: UUID | None = None,
    revisions: Mapping[int, int] | None = None,
    at: datetime | None = None,
) -> MoveResult:
    """Move trays to a bench, or to a place on it; several go to the free places from there on.

    Parameters
    ----------
    bench : Bench or None
        None when it is no longer known where they stand.
    swap, stack : bool
        What to do when the place is taken: the one that stands there goes to where this one stood,
        or both stand there.
    at : datetime, optional
        The hour of the day ``on``, where a tablet told it: a later move of that day holds.

    Raises
    ------
    NotPossibleNow
        When the place is taken or lies outside the bench, or a tray has ended.
    OutOfTime, ChangedMeanwhile, AlreadyTaken, NotUnderstood
        As everywhere; nothing is stored then.
    """
    require_day(on, now=now)
    spot = Spot(bench=bench, row=row, column=column)
    require_spot(spot)
    if not trays:
        raise NotUnderstood("Name at least one tray to move.", field="trays")
    if swap and len(trays) > 1:
        raise NotUnderstood("Only one tray at a time changes places with another.", field="swap")
    anchor = record_id or uuid.uuid4()
    with transaction.atomic():
        again = _stored_before(anchor, trays, spot, on)
        if again is not None:
            return again
        held = take_all(trays, revisions=revisions)
        for tray in held:
            require_standing(tray)
            require_since(tray, on)
        spots, other = _spots(held, spot, swap=swap, stack=stack)
        rows = [
            (tray, there, anchor if place == 0 else uuid.uuid5(anchor, f"place|{tray.code}"))
            for place, (tray, there) in enumerate(zip(held, spots, strict=True))
        ]
        if other is not None:
            old = Spot(bench=held[0].bench, row=held[0].row, column=held[0].column)
            rows.append((other, old, swap_id(anchor, other.code)))
        write_places(rows, on=on, by=by, now=now, at=at)
    words = f"{in_a_row([tray.code for tray in held])} to {spot.words}."
    if other is not None:
        words += f" {other.code} changed places with it."
    return MoveResult(moved=tuple(held), swapped=other, created=True, message=words)


def require_spot(spot: Spot) -> None:
    """Raise when a row or column is named without a bench, or lies outside it."""
    if spot.bench is None:
        if spot.row is not None or spot.column is not None:
            raise NotUnderstood("A row or column needs a bench.", field="bench")
        return
    for name, value, most in (
        ("row", spot.row, spot.bench.rows),
        ("column", spot.column, spot.bench.columns),
    ):
        if value is not None and not 1 <= value <= (most or 200):
            raise NotPossibleNow(
                f"Bench {spot.bench.code} has {name}s 1 to {most or 200}; {value} is none of them. "
                "Nothing was stored.",
                field=name,
            )


def require_free(spot: Spot, *, moving: Iterable[Tray] = ()) -> None:
    """Raise `NotPossibleNow` when another tray stands on that very place."""
    other = _occupant(spot, {tray.pk for tray in moving})
    if other is not None:
        raise NotPossibleNow(
            f"Tray {other.code} stands on {spot.words} already. Nothing was stored: choose another "
            "place, let the two change places, or stack them.",
            field="column",
        )


def _occupant(spot: Spot, moving: set[int]) -> Tray | None:
    if spot.bench is None or spot.row is None or spot.column is None:
        return None
    standing = Tray.objects.active().filter(bench=spot.bench, row=spot.row, column=spot.column)
    return standing.exclude(pk__in=moving).select_related("batch__taxon", "bench").first()


def _spots(
    held: Sequence[Tray], spot: Spot, *, swap: bool, stack: bool
) -> tuple[list[Spot], Tray | None]:
    """Return a place for each tray, and the tray that has to change places."""
    if spot.row is None or spot.column is None or stack:
        return [spot] * len(held), None
    moving = {tray.pk for tray in held}
    if len(held) > 1:
        return free_spots_from(spot, len(held), moving=moving), None
    other = _occupant(spot, moving)
    if other is None or not swap:
        require_free(spot, moving=held)
        return [spot], None
    return [spot], take_all([other])[0]


def free_spots_from(spot: Spot, how_many: int, *, moving: Iterable[int] = ()) -> list[Spot]:
    """Return that many free places of a bench, row by row from a place on.

    Raises
    ------
    NotPossibleNow
        When the bench's size is not known, or fewer are free.
    """
    bench = spot.bench
    if bench is None or bench.rows is None or bench.columns is None:
        raise NotPossibleNow(
            "The bench's rows and columns are not set down, so several trays cannot be set out on "
            "it from a place on. Move them to the bench without row and column.",
            field="bench",
        )
    taken = set(
        Tray.objects.active()
        .filter(bench=bench)
        .exclude(pk__in=list(moving))
        .values_list("row", "column")
    )
    first = (spot.row or 1, spot.column or 1)
    free = [
        Spot(bench=bench, row=row, column=column)
        for row in range(1, bench.rows + 1)
        for column in range(1, bench.columns + 1)
        if (row, column) >= first and (row, column) not in taken
    ]
    if len(free) < how_many:
        raise NotPossibleNow(
            f"Bench {bench.code} has {len(free)} free places from row {first[0]}, column "
            f"{first[1]} on; {how_many} are needed. Nothing was moved.",
            field="column",
        )
    return free[:how_many]


def write_places(
    rows: Sequence[tuple[Tray, Spot, UUID]],
    *,
    on: date,
    by: str,
    now: datetime,
    at: datetime | None = None,
) -> None:
    """Store where trays stand from a day on; what was stored for later days stays the last word."""
    Place.objects.bulk_create(
        Place(
            id=row_id,
            tray=tray,
            on=on,
            at=at,
            bench=spot.bench,
            row=spot.row,
            column=spot.column,
            by=by.strip()[:80],
            recorded_at=now,
        )
        for tray, spot, row_id in rows
    )
    later = Q(on__gt=on)
    if at is not None:
        later |= Q(on=on, hour__gt=at)
    known_later = set(
        Place.objects.standing()
        .alias(hour=Coalesce("at", "recorded_at"))
        .filter(later, tray__in=[tray for tray, _, _ in rows])
        .exclude(pk__in=[row_id for _, _, row_id in rows])
        .values_list("tray", flat=True)
    )
    there = []
    for tray, spot, _ in rows:
        if tray.pk not in known_later:
            tray.bench, tray.row, tray.column = spot.bench, spot.row, spot.column
            there.append(tray)
    Tray.objects.bulk_update(there, ["bench", "row", "column"], batch_size=200)


def restore_places(trays: Sequence[Tray], *, by: str, now: datetime) -> None:
    """Set the trays' bench, row and column to their last standing place; to none where none is."""
    for tray in trays:
        last = Place.objects.standing().filter(tray=tray).in_order().last()
        tray.bench = None if last is None else last.bench
        tray.row = None if last is None else last.row
        tray.column = None if last is None else last.column
        tray.save(update_fields=["bench", "row", "column"])
    for tray in trays:
        if tray.is_active:
            make_room(tray, by=by, now=now)


def make_room(tray: Tray, *, by: str, now: datetime) -> None:
    """Let a tray that comes back stand loose on its bench where another has taken its place."""
    here = Spot(bench=tray.bench, row=tray.row, column=tray.column)
    if _occupant(here, {tray.pk}) is not None:
        loose = Spot(bench=tray.bench)
        write_places([(tray, loose, uuid.uuid4())], on=local_day(now), by=by, now=now)


def swap_id(move_id: UUID, code: str) -> UUID:
    """Return the id of the place that a tray got by changing places with a moved one."""
    return uuid.uuid5(move_id, f"swap|{code}")


def _stored_before(anchor: UUID, trays: Sequence[Tray], spot: Spot, on: date) -> MoveResult | None:
    first = Place.objects.filter(pk=anchor).select_related("tray", "bench").first()
    if first is None:
        return None
    same = first.tray_id in {tray.pk for tray in trays} and first.on == on
    if not same or (first.bench_id or 0) != (spot.bench.pk if spot.bench else 0):
        raise AlreadyTaken(
            f"The id {anchor} stands for another record already, of tray {first.tray.code}. "
            "What was stored stays; this one needs an id of its own."
        )
    codes = in_a_row(sorted(tray.code for tray in trays))
    return MoveResult(
        moved=tuple(sorted(trays, key=lambda tray: tray.code)),
        swapped=None,
        created=False,
        message=f"{codes} to {spot.words}, on {day_words(on)}.",
    )
