"""What left the nursery from day to day, what is still to go, and out of which trays?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet

from batches.core.stages import Stage
from batches.models import Order, PlantMovement, Tray
from batches.services.holds import held_now
from batches.services.orders import progress_of
from batches.services.records_io.guarding import guarded

HEADER = ("on", "order", "recipient", "fern", "size", "quantity", "unit", "tray", "batch", "by")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """So many pots out of one tray."""

    tray: Tray
    pots: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToPick:
    """An open order laid against what stands ready; ``short`` is what is not there for it.

    ``held`` ready pots of its fern and size may not leave: their trays are held.
    """

    order: Order
    open: int
    picks: tuple[Pick, ...]
    short: int
    held: int


def dispatches_between(*, first: date | None, last: date | None) -> QuerySet[PlantMovement]:
    """Return what left from a day to a day (both included), newest first; None is no bound."""
    found = PlantMovement.objects.standing().filter(kind="dispatch")
    if first is not None:
        found = found.filter(on__gte=first)
    if last is not None:
        found = found.filter(on__lte=last)
    return found.select_related("tray__batch__taxon", "order").order_by("-on", "tray__code", "id")


def dispatch_rows(found: Iterable[PlantMovement]) -> Iterator[list[str]]:
    """Yield the list as rows of text that a spreadsheet does not run, the header first."""
    yield list(HEADER)
    for row in found:
        cells = (
            row.on.isoformat(),
            "" if row.order is None else row.order.code,
            row.recipient,
            row.tray.batch.taxon.name.text,
            row.tray.pot_size,
            str(row.quantity),
            row.tray.unit,
            row.tray.code,
            row.tray.batch.code,
            row.by,
        )
        yield [guarded(cell) for cell in cells]


def to_pick() -> tuple[ToPick, ...]:
    """Return the open orders by the day they are wanted, each with the trays to take it from.

    Earlier orders take first, the oldest trays are taken from first, bench by bench in walking
    order; an order without a size takes any; held trays give none. Four queries.
    """
    stock: defaultdict[int, list[Tray]] = defaultdict(list)
    left: dict[int, int] = {}
    ready = Tray.objects.active().filter(
        stage=str(Stage.READY), alive__gt=0, isolated=False, control=False
    )
    kept_back = set(held_now().values_list("tray", flat=True))
    for tray in ready.with_fern().order_by("started_on", "bench__walk_order", "code"):
        stock[tray.batch.taxon_id].append(tray)
        left[tray.pk] = 0 if tray.pk in kept_back else tray.alive or 0
    orders = Order.objects.open().select_related("taxon").order_by("wanted_on", "code")
    found = []
    for progress in progress_of(orders=orders):
        order, wanted = progress.order, progress.still_open
        if not wanted:
            continue
        picks = []
        missing, held = wanted, 0
        for tray in stock[order.taxon_id]:
            if order.pot_size and tray.pot_size != order.pot_size:
                continue
            held += (tray.alive or 0) if tray.pk in kept_back else 0
            pots = min(missing, left[tray.pk])
            if pots:
                picks.append(Pick(tray=tray, pots=pots))
                left[tray.pk] -= pots
                missing -= pots
        found.append(ToPick(order=order, open=wanted, picks=tuple(picks), short=missing, held=held))
    return tuple(found)
