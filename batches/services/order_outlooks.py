"""Which open orders does the forecast cover, which are at risk, which come out short?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from django.db.models import Sum

from batches.core.orders_kept import NO_SIZE, Promise, chance_of_last
from batches.core.pot_size import size_key
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

    ``before`` is what orders of the fern wanted earlier take first, ``ready`` what stands ready
    now in its size (in any, where it names none). ``no_size_yet`` pots, the likely number by its
    day, are counted for it though nobody has potted them yet, or noted into what.
    """

    order: Order
    to_go: int
    before: int
    ready: int
    no_size_yet: int
    chance: float
    state: State


def order_outlooks(*, found: NurseryForecast) -> tuple[OrderOutlook, ...]:
    """Return every order with pots still to go, by the day wanted.

    Orders of a fern are served in the order of their days, out of what stands ready and what
    becomes ready in whole weeks before the day: in the size an order names, or in none yet.
    """
    orders = list(Order.objects.open().select_related("taxon").order_by("wanted_on", "code"))
    ready = _ready_now()
    promised: defaultdict[int, list[Promise]] = defaultdict(list)
    outlooks = []
    for order, progress in zip(orders, progress_of(orders=orders), strict=True):
        to_go = progress.still_open
        if not to_go:
            continue
        size, stands = size_key(order.pot_size), ready.get(order.taxon_id, {})
        mine = promised[order.taxon_id]
        before = sum(one.pots for one in mine)
        mine.append(Promise(pots=to_go, size=size))
        there = _there_by(found, order, stands)
        chance = chance_of_last(mine, there)
        outlooks.append(
            OrderOutlook(
                order=order,
                to_go=to_go,
                before=before,
                ready=stands.get(size, 0) if size else sum(stands.values()),
                no_size_yet=round(float(np.median(there[NO_SIZE]))) if size else 0,
                chance=chance,
                state=_state(chance),
            )
        )
    return tuple(outlooks)


def last_wanted() -> date | None:
    """Return the day of the last open order; None without one."""
    last = Order.objects.open().order_by("-wanted_on").first()
    return None if last is None else last.wanted_on


def _there_by(
    found: NurseryForecast, order: Order, stands: Mapping[str, int]
) -> dict[str, np.ndarray]:
    """Return the pots there by the order's day, by size, in every draw."""
    weeks = min(max((order.wanted_on - found.on).days, 0) // 7, found.weeks)
    drawn = found.ferns.get(order.taxon)
    if drawn is None:
        sizes = {NO_SIZE, *stands}
        return {size: np.array([float(stands.get(size, 0))]) for size in sizes}
    sizes = {NO_SIZE, *stands, *drawn.in_size}
    return {size: stands.get(size, 0) + drawn.of_size(size, by_week=weeks) for size in sizes}


def _state(chance: float) -> State:
    if chance >= COVERED_FROM:
        return "covered"
    return "at risk" if chance >= AT_RISK_FROM else "short"


def _ready_now() -> dict[int, dict[str, int]]:
    """Return the pots that stand ready, by fern and size as it is compared."""
    rows = (
        Tray.objects.active()
        .filter(stage="ready", control=False)
        .exclude(pk__in=held_now().values("tray"))
        .order_by()
        .values_list("batch__taxon", "pot_size")
        .annotate(pots=Sum("alive"))
    )
    found: defaultdict[int, defaultdict[str, int]] = defaultdict(lambda: defaultdict(int))
    for taxon, size, pots in rows:
        found[taxon][size_key(size)] += pots or 0
    return {taxon: dict(sizes) for taxon, sizes in found.items()}
