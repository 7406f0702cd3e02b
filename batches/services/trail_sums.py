"""Do the numbers of a trail add up: what came in, what is left, what was lost, who got how many?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum
from django.db.models.functions import Coalesce

from batches.core.ledger import Balance, Change, Posting, balance
from batches.models import PlantMovement, Tray
from batches.services.trace import Dispatched, Trail

_CHUNK = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayCount:
    """A counted tray of a trail with the sums of its stock book, in its own unit.

    ``adds_up`` compares the sums with the count the tray is stored with.
    """

    code: str
    unit: str
    book: Balance
    alive: int | None
    ended: str

    @property
    def adds_up(self) -> bool:
        """Whether in + moved in + recount = alive + lost + moved out + dispatched."""
        return not self.book.counted or self.alive == self.book.alive


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipient:
    """Somebody who got of it: how many in each unit, how often, from when to when."""

    name: str
    quantities: tuple[tuple[int, str], ...]
    times: int
    first: date
    last: date


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailSums:
    """A trail in numbers; ``left``, ``lost`` and ``sent`` are pairs of number and unit.

    ``standing`` counts the trays that still stand, ``uncounted`` those of them nobody counted;
    ``off`` names trays whose book and count differ.
    """

    counts: tuple[TrayCount, ...]
    left: tuple[tuple[int, str], ...]
    lost: tuple[tuple[int, str], ...]
    sent: tuple[tuple[int, str], ...]
    recipients: tuple[Recipient, ...]
    trays: int
    standing: int
    uncounted: int
    off: tuple[str, ...]


def sums_of_trail(*, trail: Trail, trays: frozenset[str]) -> TrailSums:
    """Return the numbers of a trail; ``trays`` are those it leads to (`trays_it_became`).

    What stands only behind the trail's start is not summed.
    """
    rows = _trays(trays)
    books = {code: balance(found) for code, found in _postings(trays).items()}
    none = balance(())
    counts = tuple(
        TrayCount(
            code=tray.code,
            unit=tray.unit,
            book=books.get(tray.code, none),
            alive=tray.alive,
            ended=tray.get_end_display(),
        )
        for tray in rows
    )
    standing = [tray for tray in rows if tray.ended_on is None]
    dispatches = [one for one in trail.dispatches if one.tray in trays]
    return TrailSums(
        counts=tuple(count for count in counts if count.book.counted or count.book.moved_out),
        left=_by_unit((tray.alive or 0, tray.unit) for tray in standing),
        lost=_by_unit((count.book.lost, count.unit) for count in counts),
        sent=_by_unit((one.quantity, one.unit) for one in dispatches),
        recipients=recipients_of(dispatches),
        trays=len(rows),
        standing=len(standing),
        uncounted=sum(tray.alive is None for tray in standing),
        off=tuple(count.code for count in counts if not count.adds_up),
    )


def recipients_of(dispatches: Iterable[Dispatched]) -> tuple[Recipient, ...]:
    """Return who got of it, by name; what has no recipient stands under an empty one."""
    found: defaultdict[str, list[Dispatched]] = defaultdict(list)
    for one in dispatches:
        found[one.recipient].append(one)
    return tuple(
        Recipient(
            name=name,
            quantities=_by_unit((one.quantity, one.unit) for one in some),
            times=len(some),
            first=min(one.on for one in some),
            last=max(one.on for one in some),
        )
        for name, some in sorted(found.items())
    )


def _by_unit(pairs: Iterable[tuple[int, str]]) -> tuple[tuple[int, str], ...]:
    sums: defaultdict[str, int] = defaultdict(int)
    for number, unit in pairs:
        sums[unit] += number
    return tuple((sums[unit], unit) for unit in ("patches", "plants", "pots") if sums[unit])


def _trays(codes: frozenset[str]) -> list[Tray]:
    found: list[Tray] = []
    ordered = sorted(codes)
    for start in range(0, len(ordered), _CHUNK):
        found += Tray.objects.filter(code__in=ordered[start : start + _CHUNK]).order_by("code")
    return found


def _postings(codes: frozenset[str]) -> dict[str, list[Posting]]:
    found: defaultdict[str, list[Posting]] = defaultdict(list)
    ordered = sorted(codes)
    for start in range(0, len(ordered), _CHUNK):
        some = ordered[start : start + _CHUNK]
        rows = PlantMovement.objects.standing().order_by()
        own = rows.filter(tray__code__in=some).values_list("tray__code", "kind")
        for code, kind, number in own.annotate(all=Sum("quantity")):
            found[code].append(Posting(on=date.min, kind=Change(kind), quantity=number))
        came = rows.filter(to_tray__code__in=some, kind="out").values_list("to_tray__code")
        for code, number in came.annotate(all=Sum(Coalesce("arrived", "quantity"))):
            posting = Posting(on=date.min, kind=Change.OUT, quantity=number, arrived_here=True)
            found[code].append(posting)
    return dict(found)
