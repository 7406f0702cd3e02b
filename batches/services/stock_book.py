"""Does the stock book agree with what was counted, and does it never fall below nothing?

An exact count holds: what stands in the book before it is made to agree by a row of its own (the
first count ``in``, else a ``recount``), and when something is entered or struck out that happened
before a later exact count, that count's row absorbs it. So any order of entering gives the same
stock. Rows that a look wrote carry ids derived from the look's id.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Q

from batches.core.ledger import Balance, Change, Posting, balance, require_balance
from batches.models import PlantMovement, ToSettle, Tray, TrayCheck
from batches.services.days import day_bounds, local_day
from batches.services.stock_row_ids import (
    MOST_LOSSES,
    aside_id,
    count_id,
    count_ids,
    ids_of_rows,
    loss_id,
    loss_ids,
    strike_aside_id,
)

_SETTLED = uuid.UUID("6a2f7f0e-2c53-4b0a-8a5c-3e9f6b2d1c47")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """Where a row belongs among the exact counts of its tray.

    ``seen_at`` is the time of the look that wrote it, or the hour of a deed where a tablet told
    it; None for a row of which only the day is known. ``rank`` parts looks of one and the same
    instant, the same whatever arrived first; a deed comes before them.
    """

    on: date
    recorded_at: datetime
    seen_at: datetime | None = None
    rank: tuple[str, int, str] | tuple[()] = ()

    @classmethod
    def of_look(cls, check: TrayCheck, *, recorded_at: datetime) -> Moment:
        """Return where what a look wrote belongs."""
        return cls(
            on=local_day(check.seen_at), recorded_at=recorded_at, seen_at=check.seen_at,
            rank=rank_of(check),
        )  # fmt: skip


def rank_of(check: TrayCheck) -> tuple[str, int, str]:
    """Return what parts looks of one instant: the device, its own number, the id."""
    return (check.device, check.device_seq or 0, str(check.id))


def rows_written_by(check_id: UUID) -> list[PlantMovement]:
    """Return every row, standing or struck, that a look wrote: losses in their order, counts."""
    order = ids_of_rows(check_id)
    rows = {
        row.id: row
        for row in PlantMovement.objects.filter(id__in=order).select_related("struck_by")
    }
    return [rows[row_id] for row_id in order if row_id in rows]


def losses_of(check_id: UUID) -> tuple[tuple[int, str], ...]:
    """Return the losses a look named, as (how many, cause), in its order."""
    order = [loss_id(check_id, n) for n in range(MOST_LOSSES)]
    rows = {row.id: row for row in PlantMovement.objects.filter(id__in=order)}
    return tuple((rows[i].quantity, rows[i].cause) for i in order if i in rows)


def standing_losses(check_id: UUID) -> list[PlantMovement]:
    """Return the losses of a look that stand in the book, in its order."""
    order = loss_ids(check_id)
    rows = {row.id: row for row in PlantMovement.objects.standing().filter(id__in=order)}
    return [rows[row_id] for row_id in order if row_id in rows]


def lose_again(
    check: TrayCheck, losses: Sequence[tuple[int, str]], *, now: datetime
) -> list[PlantMovement]:
    """Write the losses of a look that had been set aside anew; empty when there is no room left."""
    behind = loss_ids(check.id)[MOST_LOSSES:]
    first = MOST_LOSSES + PlantMovement.objects.filter(id__in=behind).count()
    if first + len(losses) > 2 * MOST_LOSSES:
        return []
    return PlantMovement.objects.bulk_create(
        PlantMovement(
            id=loss_id(check.id, first + place), tray_id=check.tray_id,
            on=local_day(check.seen_at), kind="loss", quantity=quantity, cause=cause, by=check.by,
            recorded_at=now,
        )
        for place, (quantity, cause) in enumerate(losses)
    )  # fmt: skip


def recount_of(check_id: UUID) -> PlantMovement | None:
    """Return the standing row that a look's count wrote; None when the book agreed with it."""
    ids = count_ids(check_id)
    row: PlantMovement | None = PlantMovement.objects.standing().filter(id__in=ids).first()
    return row


def writer_of(row: PlantMovement) -> TrayCheck | None:
    """Return the look that wrote a row; None for a row of its own."""
    looks = _looks_on(row.tray_id, row.on)
    return next((look for look in looks if row.id in ids_of_rows(look.id)), None)


def struck(row: PlantMovement) -> bool:
    """Tell whether a row was struck out."""
    return getattr(row, "struck_by", None) is not None


def strike_of(row: PlantMovement, *, strike_id: UUID, by: str, now: datetime) -> PlantMovement:
    """Return the row that strikes out this one, not stored yet."""
    return PlantMovement(
        id=strike_id,
        tray_id=row.tray_id,
        on=row.on,
        kind=row.kind,
        quantity=row.quantity,
        by=by,
        recorded_at=now,
        strikes_out=row,
    )


def take_out(rows: Iterable[PlantMovement], *, by: str, now: datetime) -> None:
    """Strike out rows that are set aside; whoever calls lets the later counts absorb it."""
    for row in rows:
        strike = strike_of(row, strike_id=strike_aside_id(row.id), by=by, now=now)
        strike.save(force_insert=True)


def settle_new_count(check: TrayCheck) -> PlantMovement | None:
    """Write what makes the book agree with a count that is being stored; None when it does."""
    day = local_day(check.seen_at)
    later = {
        row_id
        for other in _looks_on(check.tray_id, day)
        if (other.seen_at, rank_of(other)) > (check.seen_at, rank_of(check))
        for row_id in ids_of_rows(other.id)
    }
    before = [
        row
        for row in _entries(check.tray_id)
        if row.on <= day
        and row.id not in later
        and not (row.on == day and row.at is not None and row.at > check.seen_at)
    ]
    return _write_count(check, before, own=None, time=0, now=check.recorded_at)


def settle_counts_from(check: TrayCheck, *, by: str, now: datetime) -> None:
    """Let a look's own count, or the next exact one, absorb what it lost."""
    counted = check.count is not None and not check.about
    if not counted or not _settle_again(check, by=by, now=now):
        moment = Moment.of_look(check, recorded_at=check.recorded_at)
        settle_counts_after(check.tray, moment, by=by, now=now)


def settle_counts_after(tray: Tray, moment: Moment, *, by: str, now: datetime) -> None:
    """Let the next exact count absorb what was entered, or struck out, before it."""
    exact = TrayCheck.objects.standing().filter(tray=tray, count__isnull=False, about=False)
    for check in exact.order_by("seen_at", "device", "device_seq", "id"):
        if _is_before(moment, check) and _settle_again(check, by=by, now=now):
            return


def _settle_again(check: TrayCheck, *, by: str, now: datetime) -> bool:
    """Settle a stored count anew; no where its row was struck out, or it waits outside."""
    if is_set_aside(check.id):
        return False
    ids = count_ids(check.id)
    found = {
        row.id: row for row in PlantMovement.objects.filter(id__in=ids).select_related("struck_by")
    }
    written = [found[row_id] for row_id in ids if row_id in found]
    own = written[-1] if written else None
    if own is not None and struck(own):
        if own.struck_by.id not in {uuid.uuid5(_SETTLED, str(own.id)), strike_aside_id(own.id)}:
            return False
        own = None
    before = _before(check, own)
    _write_count(check, before, own=own, time=len(written), now=now, by=by)
    return True


def is_set_aside(check_id: UUID) -> bool:
    """Tell whether a look's count waits outside the book, to be settled."""
    return ToSettle.objects.open().filter(pk=aside_id(check_id)).exists()


def above_by(check: TrayCheck) -> int:
    """Return by how much a count without a row in the book lies above it; 0 where it does not."""
    before = _before(check, None)
    if not any(row.counts for row in before):
        return 0
    return max((check.count or 0) - sum(row.effect for row in before), 0)


def count_again(check: TrayCheck, *, by: str, now: datetime) -> None:
    """Take a count that was set aside, and fits now, back into the book."""
    written = PlantMovement.objects.filter(id__in=count_ids(check.id))
    _write_count(check, _before(check, None), own=None, time=written.count(), now=now, by=by)


def _before(check: TrayCheck, own: PlantMovement | None) -> list[_Entry]:
    day = local_day(check.seen_at)
    writer = {
        row_id: look for look in _looks_on(check.tray_id, day) for row_id in ids_of_rows(look.id)
    }
    found = []
    for row in _entries(check.tray_id):
        if own is not None and row.id == own.id:
            continue
        look = writer.get(row.id)
        moment = Moment(on=row.on, recorded_at=row.recorded_at, seen_at=row.at)
        if look is not None:
            moment = Moment.of_look(look, recorded_at=row.recorded_at)
        if (look is not None and look.id == check.id) or _is_before(moment, check):
            found.append(row)
    return found


def _is_before(moment: Moment, check: TrayCheck) -> bool:
    day = local_day(check.seen_at)
    if moment.on != day:
        return moment.on < day
    if moment.seen_at is not None:
        return (moment.seen_at, moment.rank) < (check.seen_at, rank_of(check))
    # The records know no hour of a deed: what was written down first happened first.
    return moment.recorded_at < check.recorded_at


def _write_count(
    check: TrayCheck,
    before: Sequence[_Entry],
    *,
    own: PlantMovement | None,
    time: int,
    now: datetime,
    by: str = "",
) -> PlantMovement | None:
    counted = any(row.counts for row in before)
    # The first count says what the tray must have held: what is there, and what left before.
    need = (check.count or 0) - sum(row.effect for row in before)
    kind = Change.RECOUNT if counted else Change.IN
    if own is not None:
        if own.kind == kind and own.quantity == need:
            return own
        strike_of(own, strike_id=uuid.uuid5(_SETTLED, str(own.id)), by=by, now=now).save(
            force_insert=True
        )
    if need == 0 or (kind is Change.IN and need < 0):
        return None
    return PlantMovement.objects.create(
        id=count_id(check.id, time),
        tray_id=check.tray_id,
        on=local_day(check.seen_at),
        kind=kind,
        quantity=need,
        by=check.by,
        recorded_at=now,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    id: UUID
    on: date
    effect: int
    counts: bool
    recorded_at: datetime
    at: datetime | None


def _entries(tray_id: int) -> list[_Entry]:
    return [
        _Entry(
            id=row.id,
            on=row.on,
            effect=posting.effect,
            counts=posting.arrived_here or posting.kind is Change.IN,
            recorded_at=row.recorded_at,
            at=row.at,
        )
        for row, posting in _postings([tray_id])[tray_id]
    ]


def _looks_on(tray_id: int, day: date) -> list[TrayCheck]:
    first, last = day_bounds(day)
    return list(
        TrayCheck.objects.said()
        .filter(tray=tray_id, seen_at__range=(first, last))
        .only("id", "seen_at", "device", "device_seq")
    )


def _postings(tray_ids: Sequence[int]) -> dict[int, list[tuple[PlantMovement, Posting]]]:
    found: dict[int, list[tuple[PlantMovement, Posting]]] = {pk: [] for pk in tray_ids}
    rows = (
        PlantMovement.objects.standing()
        .filter(Q(tray__in=tray_ids) | Q(to_tray__in=tray_ids))
        .order_by("on", "recorded_at", "id")
    )
    for row in rows:
        if row.tray_id in found:
            posting = Posting(on=row.on, kind=Change(row.kind), quantity=row.quantity)
            found[row.tray_id].append((row, posting))
        if row.to_tray_id in found:
            posting = Posting(
                on=row.on, kind=Change.OUT, quantity=row.arrived_there, arrived_here=True
            )
            found[row.to_tray_id].append((row, posting))
    return found


def book_of(tray: Tray) -> Balance:
    """Return the tray's stock book summed up, in its own unit."""
    return balance(posting for _, posting in _postings([tray.pk])[tray.pk])


def require_balanced(trays: Iterable[Tray]) -> dict[int, Balance]:
    """Return the books of these trays by tray id; one query.

    Raises
    ------
    LedgerDoesNotBalance
        When one of them would fall below nothing on any day.
    """
    codes = {tray.pk: tray.code for tray in trays}
    return {
        pk: require_balance((posting for _, posting in rows), tray=codes[pk])
        for pk, rows in _postings(list(codes)).items()
    }
