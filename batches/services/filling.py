"""Under which code, in which container and where does what is filled stand?"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from batches.core.errors import NotPossibleNow, NotUnderstood
from batches.core.stages import Stage
from batches.models import Batch, LaidOutTray, Parentage, Tray
from batches.models.tray import CONTAINER_STATES, COVERS
from batches.services.codes import give_tray_codes
from batches.services.laid_out import POT_DEEDS, laid_out_by_code
from batches.services.moves import require_free, require_spot, write_places
from batches.services.picking_rules import (
    COVER_OF,
    UNIT_OF,
    Filling,
    require_bigger_pot,
    require_continues,
    require_numbers,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """A picking: its word, its day, who did it, and the id that its rows' ids derive from.

    ``at`` is the hour, where a tablet told it.
    """

    word: str
    on: date
    by: str
    now: datetime
    anchor: UUID
    at: datetime | None = None

    def id_of(self, name: str) -> UUID:
        """Return the id of one of the deed's rows."""
        return uuid.uuid5(self.anchor, name)


def trays_filled(
    deed: Deed, fillings: Sequence[Filling], start: Stage, parents: Sequence[Tray]
) -> list[Tray]:
    """Make, or find, the tray of every filling, in their order; errors as `picking.prick_out`."""
    batch = parents[0].batch
    unit = UNIT_OF[deed.word]
    fresh = [filling for filling in fillings if filling.into is None and not filling.code]
    codes = iter(give_tray_codes(batch=batch, how_many=len(fresh)) if fresh else [])
    children = []
    for filling in fillings:
        require_numbers(filling.takes, unit=unit)
        mothers = list({take.parent.pk: take.parent for take in filling.takes}.values())
        if filling.into is not None:
            require_continues(filling.into, start=start, unit=unit, parents=mothers)
            child = filling.into
        else:
            child = _new_tray(deed, filling, batch, start, codes, mothers)
        for mother in mothers:
            Parentage.objects.get_or_create(parent=mother, child=child)
        children.append(child)
    return children


def _new_tray(
    deed: Deed,
    filling: Filling,
    batch: Batch,
    start: Stage,
    codes: Iterator[str],
    mothers: Sequence[Tray],
) -> Tray:
    laid_out = None
    if filling.code:
        laid_out = laid_out_by_code(code=filling.code, batch=batch, deed=deed.word)
    pot_size = filling.pot_size or (laid_out.pot_size if laid_out else "")
    container = filling.container or (laid_out.container if laid_out else "")
    _require_new_tray(deed, filling, container, pot_size)
    if deed.word == "pot_on":
        require_bigger_pot(pot_size, mothers)
    code = laid_out.code if laid_out is not None else next(codes)
    child = Tray.objects.create(
        code=code,
        batch=batch,
        container=container[:60],
        cells=filling.cells or (laid_out.cells if laid_out else None),
        started_on=deed.on,
        start_stage=start,
        stage=start,
        stage_seen_on=deed.on,
        unit=UNIT_OF[deed.word],
        pot_size=pot_size[:20],
        medium_batch=filling.medium_batch,
        container_state=filling.container_state,
        label_printed_on=laid_out.label_printed_on if laid_out is not None else None,
        cover=filling.cover or COVER_OF[deed.word],
    )
    if laid_out is not None:
        filled = LaidOutTray.objects.waiting().filter(pk=laid_out.pk).update(filled_by=child)
        if not filled:
            raise NotPossibleNow(f"{code} was filled or handed back just now.", field="code")
    if filling.spot.bench is not None:
        require_free(filling.spot)
        place_id = deed.id_of(f"place|{child.code}")
        write_places(
            [(child, filling.spot, place_id)], on=deed.on, by=deed.by, now=deed.now, at=deed.at
        )
    return child


def _require_new_tray(deed: Deed, filling: Filling, container: str, pot_size: str) -> None:
    require_spot(filling.spot)
    if not container:
        raise NotUnderstood(
            "Say what was filled: a cell tray 84, a carrier 9 cm …", field="container"
        )
    if deed.word in POT_DEEDS and not pot_size:
        raise NotUnderstood("Pots have a size: 9 cm, 1 L …", field="pot_size")
    if filling.cells is not None and not 1 <= filling.cells <= 2000:
        raise NotUnderstood("A tray has 1 to 2,000 cells.", field="cells")
    if filling.cover not in {"", *(word for word, _ in COVERS)}:
        raise NotUnderstood("A cover is closed, vented or off.", field="cover")
    if filling.container_state not in {"", *(word for word, _ in CONTAINER_STATES)}:
        raise NotUnderstood("A container is new or washed.", field="container_state")
