"""How is a mistake struck out, so that it counts no more and stays readable?

A later row of the same table names the one it strikes out. What a look wrote (its losses, its
count, a correction it stated) is struck out with it.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from batches.core.errors import AlreadyTaken, LedgerDoesNotBalance, NotPossibleNow
from batches.core.ledger import Balance
from batches.models import CareDone, Place, PlantMovement, StageTransition, Tray, TrayCheck
from batches.services.change_notes import note_change
from batches.services.days import day_words, local_day
from batches.services.ending import stand_again
from batches.services.moves import restore_places, swap_id
from batches.services.stage_claims import correction_id
from batches.services.standing import refold
from batches.services.stock_book import (
    Moment,
    book_of,
    require_balanced,
    rows_written_by,
    settle_counts_after,
    strike_of,
    struck,
    writer_of,
)
from batches.services.tray_life import take_all

#: what may be struck out
Row = TrayCheck | StageTransition | PlantMovement | Place | CareDone

_NOUNS: dict[type[Row], str] = {
    TrayCheck: "look",
    StageTransition: "passage",
    PlantMovement: "row of the stock book",
    Place: "place",
    CareDone: "care",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeResult:
    """What was struck out; ``strike`` is the row that did it, False ``created`` one of before.

    ``also`` are the rows that were struck out with it.
    """

    strike: Row
    also: tuple[Row, ...]
    tray: Tray
    created: bool
    message: str


def strike_out(
    *,
    row: Row,
    by: str,
    now: datetime,
    record_id: UUID | None = None,
    revision: int | None = None,
) -> StrikeResult:
    """Strike out a look, a passage, a row of the stock book, a place or a care; twice is once.

    Raises
    ------
    NotPossibleNow
        For a strike-out itself, a passage that was read out of looks, a discarded tray.
    LedgerDoesNotBalance
        When a tray would then hold less than nothing on any day.
    AlreadyTaken, ChangedMeanwhile
        For an id that stands for something else; when somebody else wrote meanwhile.
    """
    try:
        with transaction.atomic():
            return _strike(row, by=by.strip()[:80], now=now, record_id=record_id, revision=revision)
    except IntegrityError:
        # Struck out at the same time from another side.
        again = _struck_before(row, record_id)
        if again is None:
            raise
        return again


def _strike(
    row: Row, *, by: str, now: datetime, record_id: UUID | None, revision: int | None
) -> StrikeResult:
    again = _struck_before(row, record_id)
    if again is not None:
        return again
    _require_strikable(row)
    trays = _trays_of(row)
    held = {
        tray.pk: tray
        for tray in take_all(
            trays, revisions={row.tray_id: revision} if revision is not None else None
        )
    }
    counted = {pk for pk, tray in held.items() if book_of(tray).counted}
    strike = _strike_row(row, strike_id=record_id or uuid.uuid4(), by=by, now=now)
    strike.save(force_insert=True)
    note_change(
        what=f"{_NOUNS[type(row)]} struck out", now=now, by=by, about=row.tray.code,
        before=str(row.pk), after=str(strike.pk),
    )  # fmt: skip
    also = _strike_with_it(row, strike.id, by=by, now=now)
    gone = [one for one in (row, *also) if isinstance(one, PlantMovement)]
    words = ""
    if gone:
        words = _after_stock(row, gone, held, counted, by=by, now=now)
    if isinstance(row, Place):
        restore_places(list(held.values()), by=by, now=now)
    refold(trays=list(held.values()), recorded_at=now)
    for tray in held.values():
        tray.refresh_from_db()
    return StrikeResult(
        strike=strike,
        also=tuple(also),
        tray=held[row.tray_id],
        created=True,
        message=_message(row, held[row.tray_id]) + words,
    )


def _struck_before(row: Row, record_id: UUID | None) -> StrikeResult | None:
    """Return the answer of the first time when the row is struck out; None when it stands."""
    model = type(row)
    strike = model._default_manager.filter(strikes_out=row.pk).select_related("tray").first()
    if strike is not None:
        tray = strike.tray
        return StrikeResult(
            strike=strike, also=(), tray=tray, created=False, message=_message(row, tray)
        )
    taken = record_id is not None and model._default_manager.filter(pk=record_id).exists()
    if taken:
        raise AlreadyTaken(
            f"The id {record_id} stands for another record already. What was stored stays; this "
            "one needs an id of its own."
        )
    return None


def _require_strikable(row: Row) -> None:
    noun = _NOUNS[type(row)]
    if row.strikes_out_id is not None:
        raise NotPossibleNow(
            f"This row strikes out a {noun} and cannot be struck out itself. Nothing was stored; "
            f"enter the {noun} again as a new one."
        )
    if isinstance(row, StageTransition) and row.derived:
        raise NotPossibleNow(
            "This passage was read out of the looks and pickings. Nothing was stored; strike out "
            f"the look of {day_words(row.seen_on)} or the picking that shows it."
        )


def _trays_of(row: Row) -> list[Tray]:
    """Return the trays that the row, or what is struck out with it, touches."""
    trays = [row.tray]
    if isinstance(row, Place):
        trays += [place.tray for place in _swapped_with(row)]
    if isinstance(row, PlantMovement) and row.to_tray is not None:
        trays.append(row.to_tray)
    return trays


def _strike_row(row: Row, *, strike_id: UUID, by: str, now: datetime) -> Row:
    """Return the row that strikes out this one, not stored yet."""
    if isinstance(row, PlantMovement):
        return strike_of(row, strike_id=strike_id, by=by, now=now)
    common = {"id": strike_id, "tray": row.tray, "by": by, "recorded_at": now, "strikes_out": row}
    if isinstance(row, TrayCheck):
        return TrayCheck(seen_at=row.seen_at, **common)
    if isinstance(row, StageTransition):
        return StageTransition(
            from_stage=row.from_stage, to_stage=row.to_stage, seen_on=row.seen_on, **common
        )
    if isinstance(row, Place):
        return Place(on=row.on, **common)
    return CareDone(care=row.care, on=row.on, **common)


def _strike_with_it(row: Row, strike_id: UUID, *, by: str, now: datetime) -> list[Row]:
    """Strike out what a look wrote, or who changed places at a move; return those rows."""
    also: list[Row] = []
    if isinstance(row, TrayCheck):
        also += [one for one in rows_written_by(row.id) if not struck(one)]
        also += StageTransition.objects.standing().filter(id=correction_id(row.id))
    if isinstance(row, Place):
        also += _swapped_with(row)
    for one in also:
        _strike_row(one, strike_id=uuid.uuid5(strike_id, str(one.pk)), by=by, now=now).save(
            force_insert=True
        )
    return also


def _swapped_with(row: Place) -> list[Place]:
    """Return the standing place of the tray that changed places at this move; at most one."""
    together = Place.objects.standing().filter(on=row.on, recorded_at=row.recorded_at)
    return [
        place
        for place in together.select_related("tray")
        if place.id == swap_id(row.id, place.tray.code)
    ]


def _after_stock(
    row: Row,
    gone: Sequence[PlantMovement],
    held: dict[int, Tray],
    counted: set[int],
    *,
    by: str,
    now: datetime,
) -> str:
    """Let later counts absorb it, judge the books, let emptied and ended trays stand right."""
    first = min(gone, key=lambda one: one.on)
    for tray in held.values():
        settle_counts_after(tray, _moment_of(row, first), by=by, now=now)
    books = require_balanced(held.values())
    words = ""
    for pk, tray in held.items():
        if pk in counted and not books[pk].counted and books[pk].alive < 0:
            raise LedgerDoesNotBalance(
                f"{-books[pk].alive} {tray.unit} left tray {tray.code} out of what this row "
                "counted in. Nothing was struck out; strike those rows out first, or count again."
            )
        words += _right_ending(tray, first, books[pk], by=by, now=now)
    return words


def _moment_of(row: Row, first: PlantMovement) -> Moment:
    look = row if isinstance(row, TrayCheck) else writer_of(first)
    if look is not None:
        return Moment.of_look(look, recorded_at=first.recorded_at)
    return Moment(on=first.on, recorded_at=first.recorded_at, seen_at=first.at)


def _right_ending(tray: Tray, gone: PlantMovement, book: Balance, *, by: str, now: datetime) -> str:
    """Stand an ended tray up that holds something again; end a tray that was never filled."""
    if tray.ended_on is not None:
        if tray.end == "discarded":
            raise NotPossibleNow(
                f"Tray {tray.code} was discarded on {day_words(tray.ended_on)} and what it "
                "held was written off. Nothing was struck out; take the discard back first."
            )
        filled_again = book.alive > 0 if book.counted else gone.on >= tray.ended_on
        if filled_again:
            stand_again(tray, by=by, now=now)
            return f" Tray {tray.code} stands again."
        return ""
    if gone.to_tray_id == tray.pk and not book.counted and not _touched(tray):
        day = max(tray.started_on, gone.on)
        tray.ended_on, tray.end, tray.come_back_on = day, "cleared", None
        tray.save(update_fields=["ended_on", "end", "come_back_on"])
        return f" Tray {tray.code} was never filled and is cleared."
    return ""


def _touched(tray: Tray) -> bool:
    """Tell whether anything else stands on record of a tray."""
    return (
        TrayCheck.objects.standing().filter(tray=tray).exists()
        or PlantMovement.objects.standing().touching(tray).exists()
    )


def _message(row: Row, tray: Tray) -> str:
    return f"Struck out: the {_NOUNS[type(row)]} of {day_words(_day_of(row))}, tray {tray.code}."


def _day_of(row: Row) -> date:
    if isinstance(row, TrayCheck):
        return local_day(row.seen_at)
    return row.seen_on if isinstance(row, StageTransition) else row.on
