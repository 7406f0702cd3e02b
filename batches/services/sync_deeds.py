"""A tablet moved, isolated, pricked out or potted up: what does its item say, is it done once?

What the hands did is done: a place that is taken is shared, and what cannot be done on record is
refused here and waits for the manager. Deeds of one day keep the order in which they happened,
whatever the order in which they arrive.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.utils.dateparse import parse_date

from batches.core.errors import NotUnderstood, UnknownCode
from batches.models import Bench, LaidOutTray, PlantMovement, Tray
from batches.services.codes import find_tray
from batches.services.days import local_day
from batches.services.keeping import set_isolated
from batches.services.moves import MoveResult, move
from batches.services.picking import Filling, ParentAfter, PickingResult, Take, pot_up, prick_out
from batches.services.picking_rules import UNIT_OF
from batches.services.picking_undone import stand_up
from batches.services.sync_items import Item, flag_of, number_of, text_of
from batches.services.tray_life import require_day

_MOST_TRAYS = 60
_DEEDS = {"prick_out": prick_out, "pot_up": pot_up}
#: what is filled where the tablet does not say
_CONTAINERS = {"prick_out": "cell tray", "pot_up": "carrier"}


def move_sent(item: Item, *, now: datetime) -> MoveResult:
    """Move a tray as a tablet says; what stands there already stays beside it.

    Raises
    ------
    UnknownCode, NotPossibleNow, OutOfTime, AlreadyTaken, NotUnderstood
        Nothing was stored.
    """
    code = text_of(item.raw.get("bench"))
    bench = Bench.objects.filter(code=code).first()
    if bench is None:
        raise UnknownCode(f"There is no bench “{code[:40]}”.")
    return move(
        trays=[tray_of(item)],
        bench=bench,
        row=number_of(item.raw, "row"),
        column=number_of(item.raw, "column"),
        on=local_day(item.at),
        at=item.at,
        by=item.by,
        now=now,
        stack=True,
        record_id=item.id,
    )


def isolated_sent(item: Item, *, now: datetime) -> tuple[bool, str]:
    """Set a tray apart, or back among the others; what arrives last holds.

    Returns
    -------
    tuple of (bool, str)
        Whether that changed anything, and the sentence for the tablet.

    Raises
    ------
    UnknownCode, NotPossibleNow
        Nothing was stored.
    """
    tray, isolated = tray_of(item), flag_of(item.raw, "isolated")
    (after,) = set_isolated(trays=[tray], isolated=isolated, by=item.by, now=now, record_id=item.id)
    changed = after.isolated != tray.isolated
    how = "isolated; it is looked at last" if isolated else "back among the others"
    return changed, f"{tray.code}: {how}."


def picking_sent(item: Item, *, now: datetime) -> PickingResult:
    """Prick out or pot up as a tablet says.

    ``quantity`` left the parent, in its unit; each of ``trays`` says what arrived in it, in its
    own. Without an ``arrived`` of the whole, the trays' numbers tell it.

    Raises
    ------
    NurseryError
        As `picking.prick_out`, and when the numbers do not add up; nothing was stored.
    """
    on = local_day(item.at)
    require_day(on, now=now)
    parent = tray_of(item)
    fillings = _fillings(item, parent, now)
    _begin_earlier([one.into for one in fillings if one.into is not None], on)
    after = ParentAfter(parent=parent, come_back_on=_come_back_on(item))
    return _DEEDS[item.kind](
        fillings=fillings, parents=[after], on=on, at=item.at, by=item.by, now=now,
        record_id=item.id,
    )  # fmt: skip


def _begin_earlier(trays: Sequence[Tray], on: date) -> None:
    """Let a tray that a tablet filled begin on the day of its first filling, sent first or not."""
    for tray in trays:
        filled = PlantMovement.objects.filter(to_tray=tray, at__isnull=False, on=tray.started_on)
        if on < tray.started_on and filled.exists():
            Tray.objects.filter(pk=tray.pk).update(started_on=on, stage_seen_on=on)
            tray.refresh_from_db()


def tray_of(item: Item) -> Tray:
    """Return the tray that an item names; raise `UnknownCode`."""
    return find_tray(text_of(item.raw.get("tray"))[:200])


def _fillings(item: Item, parent: Tray, now: datetime) -> list[Filling]:
    named = item.raw.get("trays")
    if not isinstance(named, list) or not all(isinstance(one, dict) for one in named):
        raise NotUnderstood("“trays” is no list of what was filled.")
    if not 1 <= len(named) <= _MOST_TRAYS:
        raise NotUnderstood(f"Name 1 to {_MOST_TRAYS} trays that were filled.")
    left = _number(item.raw, "quantity", "how many left the tray")
    arrived = [_number(one, "quantity", "how many arrived in each tray") for one in named]
    whole = number_of(item.raw, "arrived")
    if whole is not None and whole != sum(arrived):
        raise NotUnderstood(
            f"{whole} arrived in all, and {sum(arrived)} in the trays that are named. Nothing was "
            "stored."
        )
    alike = parent.unit == UNIT_OF[item.kind]
    return [
        _filling(item, one, Take(
            parent=parent, left=part, arrived=None if alike and part == there else there,
        ), now)
        for one, part, there in zip(named, _shared(left, arrived), arrived, strict=True)
    ]  # fmt: skip


def _filling(item: Item, one: dict[str, Any], take: Take, now: datetime) -> Filling:
    code = text_of(one.get("code"))[:40]
    laid_out = LaidOutTray.objects.filter(code=code).select_related("filled_by").first()
    if code and (laid_out is None or laid_out.filled_by is not None):
        # A tray that stands already is filled up, one that was laid out is filled now.
        into = find_tray(code)
        ended = laid_out is not None and into.ended_on is not None
        if ended and not PlantMovement.objects.filter(pk=item.id).exists():
            stand_up(into, by=item.by, now=now)
        return Filling(takes=[take], into=into)
    container = text_of(one.get("container"))
    return Filling(
        takes=[take],
        code="" if laid_out is None else laid_out.code,
        container=container or ("" if laid_out is not None else _CONTAINERS[item.kind]),
        cells=number_of(one, "cells"),
        pot_size=text_of(one.get("pot_size")),
    )


def _shared(left: int, arrived: Sequence[int]) -> list[int]:
    """Share what left among the trays by what arrived in each, one at the least."""
    if left < len(arrived):
        raise NotUnderstood(f"{left} cannot have gone into {len(arrived)} trays.")
    whole = sum(arrived)
    exact = [left * there / whole for there in arrived]
    shares = [max(1, int(part)) for part in exact]
    # What rounding left over goes to the largest remainders; what the least of one took comes
    # from the largest shares.
    while sum(shares) < left:
        place = max(range(len(shares)), key=lambda i: exact[i] - shares[i])
        shares[place] += 1
    while sum(shares) > left:
        place = max(range(len(shares)), key=lambda i: (shares[i] - exact[i], shares[i]))
        shares[place] -= 1
    return shares


def _number(raw: Mapping[str, Any], name: str, what: str) -> int:
    found = number_of(raw, name)
    if found is None or not 1 <= found <= 1_000_000:
        raise NotUnderstood(f"It does not say {what}, as a whole number from 1 up.")
    return found


def _come_back_on(item: Item) -> date | None:
    text = text_of(item.raw.get("come_back_on"))
    if not text:
        return None
    try:
        found = parse_date(text)
    except ValueError:
        found = None
    if found is None:
        raise NotUnderstood(f"“{text[:40]}” is no day to come back on.")
    return found
