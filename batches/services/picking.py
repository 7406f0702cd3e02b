"""Plants leave one tray for others: what was picked, what arrived, what stays?

Pricking out, patching out, potting up and potting on are one deed in four forms. Trays of one
batch are filled from one or more parents; the parents keep their stage, their looks and what is
left in them, and may be ended at any picking. The same deed sent twice is done once.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction

from batches.core.errors import AlreadyTaken, NotPossibleNow
from batches.models import PlantMovement, Tray
from batches.services.days import day_words, local_day
from batches.services.filling import Deed, trays_filled
from batches.services.holds import hand_down
from batches.services.laid_out import require_one_batch
from batches.services.leaving import leave, write_losses
from batches.services.picking_rules import (
    UNIT_OF,
    Filling,
    ParentAfter,
    Take,
    require_whole,
    start_stage_of,
)
from batches.services.standing import refold
from batches.services.stock_book import Moment, require_balanced, settle_counts_after
from batches.services.stock_row_ids import out_id
from batches.services.tray_life import (
    in_a_row,
    require_day,
    require_since,
    require_standing,
    take_all,
)

__all__ = ["Filling", "ParentAfter", "PickingResult", "Take", "patch_out", "pot_on", "pot_up",
           "prick_out"]  # fmt: skip

_DONE_WORDS = {
    "prick_out": "pricked out",
    "patch_out": "patched out",
    "pot_up": "potted up",
    "pot_on": "potted on",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PickingResult:
    """What was filled, in the order given, from which parents; as they are after the deed.

    ``created`` is False when the same deed was stored before.
    """

    children: tuple[Tray, ...]
    parents: tuple[Tray, ...]
    movements: tuple[PlantMovement, ...]
    created: bool
    message: str


def prick_out(
    *,
    fillings: Sequence[Filling],
    parents: Sequence[ParentAfter] = (),
    on: date,
    by: str,
    now: datetime,
    record_id: UUID | None = None,
    at: datetime | None = None,
) -> PickingResult:
    """Prick plants out into cell trays, or lift bulbils; the children start pricked out.

    Parameters
    ----------
    fillings : sequence of Filling
        At least one; each names what went into it from which parent.
    parents : sequence of ParentAfter
        What becomes of parents; one that is not named just keeps what is left in it.
    at : datetime, optional
        The hour of the day ``on``, where a tablet told it.

    Raises
    ------
    NotPossibleNow
        For trays of different batches, a tray that ended, a stage that does not fit, a taken
        place, an ending that leaves something unexplained.
    LedgerDoesNotBalance
        When more would leave than a tray holds.
    ChangedMeanwhile
        When somebody else wrote to a parent since its page was shown.
    NotUnderstood, OutOfTime, UnknownCode, AlreadyTaken, BadCode
        As everywhere. Nothing is stored in any of these cases.
    """
    deed = Deed(word="prick_out", on=on, by=by, now=now, anchor=record_id or uuid.uuid4(), at=at)
    return _pick(deed, fillings, parents)


def patch_out(
    *,
    fillings: Sequence[Filling],
    parents: Sequence[ParentAfter] = (),
    on: date,
    by: str,
    now: datetime,
    record_id: UUID | None = None,
    at: datetime | None = None,
) -> PickingResult:
    """Set patches of prothalli into fresh mix; the children start in the parent's stage.

    Parameters and errors as `prick_out`.
    """
    deed = Deed(word="patch_out", on=on, by=by, now=now, anchor=record_id or uuid.uuid4(), at=at)
    return _pick(deed, fillings, parents)


def pot_up(
    *,
    fillings: Sequence[Filling],
    parents: Sequence[ParentAfter] = (),
    on: date,
    by: str,
    now: datetime,
    record_id: UUID | None = None,
    at: datetime | None = None,
) -> PickingResult:
    """Pot plants up; what arrives is counted in pots, several plants a pot where it is so.

    Parameters and errors as `prick_out`; new carriers need a pot size.
    """
    deed = Deed(word="pot_up", on=on, by=by, now=now, anchor=record_id or uuid.uuid4(), at=at)
    return _pick(deed, fillings, parents)


def pot_on(
    *,
    fillings: Sequence[Filling],
    parents: Sequence[ParentAfter] = (),
    on: date,
    by: str,
    now: datetime,
    record_id: UUID | None = None,
    at: datetime | None = None,
) -> PickingResult:
    """Pot on into bigger pots; the children start potted up again.

    Parameters and errors as `prick_out`; a pot that is no bigger is refused.
    """
    deed = Deed(word="pot_on", on=on, by=by, now=now, anchor=record_id or uuid.uuid4(), at=at)
    return _pick(deed, fillings, parents)


def _pick(
    deed: Deed, fillings: Sequence[Filling], afterwards: Sequence[ParentAfter]
) -> PickingResult:
    require_day(deed.on, now=deed.now)
    require_whole(fillings, afterwards)
    with transaction.atomic():
        again = _stored_before(deed, fillings)
        if again is not None:
            return again
        held = _held(deed, fillings, afterwards)
        fillings = [_with(held, filling) for filling in fillings]
        parents = _parents_of(fillings)
        for tray in held.values():
            require_one_batch(parents[0].batch, tray)
        start = start_stage_of(deed.word, parents)
        children = trays_filled(deed, fillings, start, parents)
        moved = _move_plants(deed, fillings, children)
        given = [(row.tray, row.to_tray) for row in moved if row.to_tray is not None]
        hand_down(given=given, by=deed.by, now=deed.now)
        write_losses(deed, held, afterwards)
        everyone = list({tray.pk: tray for tray in (*parents, *children)}.values())
        if deed.on < local_day(deed.now) or deed.at is not None:
            for tray in everyone:
                moment = Moment(on=deed.on, recorded_at=deed.now, seen_at=deed.at)
                settle_counts_after(tray, moment, by=deed.by, now=deed.now)
        books = require_balanced(everyone)
        for parent in parents:
            after = next((one for one in afterwards if one.parent.pk == parent.pk), None)
            leave(deed, parent, after, left_over=books[parent.pk].alive)
        refold(trays=everyone, recorded_at=deed.now)
        for tray in everyone:
            tray.refresh_from_db()
    return PickingResult(
        children=tuple(children),
        parents=tuple(parents),
        movements=tuple(moved),
        created=True,
        message=_message(deed, moved, children, parents),
    )


def _held(
    deed: Deed, fillings: Sequence[Filling], afterwards: Sequence[ParentAfter]
) -> dict[int, Tray]:
    """Claim every tray that the deed touches and return them as they are now, by id."""
    trays = [take.parent for filling in fillings for take in filling.takes]
    trays += [filling.into for filling in fillings if filling.into is not None]
    revisions = {
        after.parent.pk: after.revision for after in afterwards if after.revision is not None
    }
    held = {tray.pk: tray for tray in take_all(trays, revisions=revisions)}
    for tray in held.values():
        require_standing(tray)
        require_since(tray, deed.on)
        if tray.control:
            raise NotPossibleNow(
                f"Tray {tray.code} is a control that nothing was sown in: what grows there is a "
                "stray. Nothing was stored.",
                field="parents",
            )
    return held


def _with(held: dict[int, Tray], filling: Filling) -> Filling:
    """Return the filling with its trays as they are now."""
    takes = [
        Take(parent=held[take.parent.pk], left=take.left, arrived=take.arrived)
        for take in filling.takes
    ]
    return Filling(
        takes=takes,
        code=filling.code.strip(),
        into=None if filling.into is None else held[filling.into.pk],
        container=filling.container.strip(),
        cells=filling.cells,
        pot_size=filling.pot_size.strip(),
        container_state=filling.container_state,
        medium_batch=filling.medium_batch,
        spot=filling.spot,
        cover=filling.cover,
    )


def _parents_of(fillings: Sequence[Filling]) -> list[Tray]:
    found = {take.parent.pk: take.parent for filling in fillings for take in filling.takes}
    return list(found.values())


def _move_plants(
    deed: Deed, fillings: Sequence[Filling], children: Sequence[Tray]
) -> list[PlantMovement]:
    rows = []
    for filling, child in zip(fillings, children, strict=True):
        for take in filling.takes:
            arrived = None if take.arrived == take.left else take.arrived
            rows.append(
                PlantMovement(
                    tray=take.parent,
                    on=deed.on,
                    at=deed.at,
                    kind="out",
                    quantity=take.left,
                    arrived=arrived,
                    to_tray=child,
                    by=deed.by.strip()[:80],
                    recorded_at=deed.now,
                )
            )
    for place, row in enumerate(rows):
        row.id = out_id(deed.anchor, place, len(rows))
    return PlantMovement.objects.bulk_create(rows)


def _stored_before(deed: Deed, fillings: Sequence[Filling]) -> PickingResult | None:
    """Return the answer of the first time when this deed is stored already; None when it is new."""
    if not PlantMovement.objects.filter(pk=deed.anchor).exists():
        return None
    takes = [take for filling in fillings for take in filling.takes]
    ids = [out_id(deed.anchor, place, len(takes)) for place in range(len(takes))]
    found = {
        row.id: row
        for row in PlantMovement.objects.filter(id__in=ids).select_related(
            "tray__batch__taxon", "to_tray"
        )
    }
    wanted = [(take.parent.pk, take.left, take.arrived or take.left, deed.on) for take in takes]
    stored = [
        (row.tray_id, row.quantity, row.arrived_there, row.on)
        for row in (found[row_id] for row_id in ids if row_id in found)
    ]
    if wanted != stored:
        raise AlreadyTaken(
            f"The id {deed.anchor} stands for another record already. What was stored stays; this "
            "one needs an id of its own."
        )
    rows = [found[row_id] for row_id in ids]
    children = list({row.to_tray_id: row.to_tray for row in rows if row.to_tray}.values())
    parents = list({row.tray_id: row.tray for row in rows}.values())
    return PickingResult(
        children=tuple(children),
        parents=tuple(parents),
        movements=tuple(rows),
        created=False,
        message=_message(deed, rows, children, parents),
    )


def _message(
    deed: Deed,
    moved: Sequence[PlantMovement],
    children: Sequence[Tray],
    parents: Sequence[Tray],
) -> str:
    arrived = sum(row.arrived_there for row in moved)
    words = []
    words.append(
        f"{arrived} {UNIT_OF[deed.word]} {_DONE_WORDS[deed.word]} into "
        f"{in_a_row([child.code for child in children])}."
    )
    for parent in parents:
        if parent.ended_on is not None:
            words.append(f"{parent.code} is cleared.")
        elif parent.alive is not None:
            words.append(f"{parent.alive} {parent.unit} stay in {parent.code}.")
        if parent.come_back_on is not None:
            words.append(f"Come back to {parent.code} on {day_words(parent.come_back_on)}.")
    return " ".join(words)
