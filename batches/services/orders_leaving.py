"""Which orders leave by a day, and what is short for them?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum

from batches.models import Order, Tray
from batches.services.holds import held_now
from batches.services.orders import progress_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaving:
    """An order wanted this week; ``short`` is how many pots are not ready for it."""

    order: Order
    open: int
    ready: int
    short: int


def orders_leaving(*, until: date) -> Iterable[Leaving]:
    """Yield the open orders wanted by then, laid one after the other against the ready pots."""
    orders = list(
        Order.objects.open()
        .filter(wanted_on__lte=until)
        .select_related("taxon")
        .order_by("wanted_on", "code")
    )
    if not orders:
        return
    ready = _ready_pots()
    for progress in progress_of(orders=orders):
        order = progress.order
        wanted = max(progress.ordered - progress.dispatched, 0)
        if not wanted:
            continue
        key = (order.taxon_id, order.pot_size)
        here = (
            ready[key]
            if order.pot_size
            else sum(pots for (taxon, _), pots in ready.items() if taxon == order.taxon_id)
        )
        served = min(wanted, here)
        if order.pot_size:
            ready[key] -= served
        yield Leaving(order=order, open=wanted, ready=here, short=wanted - served)


def _ready_pots() -> defaultdict[tuple[int, str], int]:
    rows = (
        Tray.objects.active()
        .filter(stage="ready", alive__gt=0)
        .exclude(pk__in=held_now().values("tray"))
        .values("batch__taxon", "pot_size")
        .annotate(pots=Sum("alive"))
        .order_by()
    )
    found: defaultdict[tuple[int, str], int] = defaultdict(int)
    for row in rows:
        found[row["batch__taxon"], row["pot_size"]] += row["pots"]
    return found
