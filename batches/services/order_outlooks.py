"""Which open orders does the forecast cover, which are at risk, which come out short?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date
from typing import Literal

from django.db.models import Sum

from batches.models import Order, Tray
from batches.services.forecasting import NurseryForecast
from batches.services.holds import held_now
from batches.services.orders import progress_of

State = Literal["covered", "at risk", "short"]
#: from these chances on an order counts as covered, or at risk; below, it is short
COVERED_FROM, AT_RISK_FROM = 0.9, 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOutlook:
    """An open order with the chance that its pots are there by its day.

    ``before`` is what orders wanted earlier take first, ``ready`` what stands ready now.
    """

    order: Order
    to_go: int
    before: int
    ready: int
    chance: float
    state: State


def order_outlooks(*, found: NurseryForecast) -> tuple[OrderOutlook, ...]:
    """Return every order with pots still to go, by the day wanted.

    Orders of a fern are served in the order of their days, out of what stands ready, then out of
    what becomes ready in whole weeks before the day. Sizes of pots are not told apart.
    """
    orders = list(Order.objects.open().select_related("taxon").order_by("wanted_on", "code"))
    ready = _ready_now()
    taken: defaultdict[int, int] = defaultdict(int)
    outlooks = []
    for order, progress in zip(orders, progress_of(orders=orders), strict=True):
        to_go = progress.still_open
        if not to_go:
            continue
        before, there = taken[order.taxon_id], ready.get(order.taxon_id, 0)
        chance = _chance(found, order, needed=before + to_go - there)
        outlooks.append(
            OrderOutlook(
                order=order, to_go=to_go, before=before, ready=there, chance=chance,
                state=_state(chance),
            )
        )  # fmt: skip
        taken[order.taxon_id] += to_go
    return tuple(outlooks)


def last_wanted() -> date | None:
    """Return the day of the last open order; None without one."""
    last = Order.objects.open().order_by("-wanted_on").first()
    return None if last is None else last.wanted_on


def _chance(found: NurseryForecast, order: Order, *, needed: int) -> float:
    if needed <= 0:
        return 1.0
    weeks = min(max((order.wanted_on - found.on).days, 0) // 7, found.weeks)
    drawn = found.ferns.get(order.taxon)
    if drawn is None or not weeks:
        return 0.0
    return drawn.chance_of(needed, by_week=weeks)


def _state(chance: float) -> State:
    if chance >= COVERED_FROM:
        return "covered"
    return "at risk" if chance >= AT_RISK_FROM else "short"


def _ready_now() -> dict[int, int]:
    rows = (
        Tray.objects.active()
        .filter(stage="ready", control=False)
        .exclude(pk__in=held_now().values("tray"))
        .order_by()
        .values("batch__taxon")
        .annotate(pots=Sum("alive"))
        .values_list("batch__taxon", "pots")
    )
    return {taxon: pots or 0 for taxon, pots in rows}
