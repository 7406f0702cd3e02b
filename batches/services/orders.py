"""What was promised to whom, and how much of it has left?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db import transaction
from django.db.models import Sum

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import Order, PlantMovement, Taxon
from batches.services.codes import give_kind_code, take_own_code
from batches.services.days import at_noon, day_words
from batches.services.stored_forms import made_before, note_made

_MOST_POTS = 1_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderProgress:
    """How far an order is: pots ordered, dispatched for it, and still to go (never below 0)."""

    order: Order
    ordered: int
    dispatched: int

    @property
    def still_open(self) -> int:
        """Pots still to go."""
        return max(0, self.ordered - self.dispatched)

    @property
    def is_whole(self) -> bool:
        """Whether as much left as was ordered, or more."""
        return self.dispatched >= self.ordered


def record_order(
    *,
    taxon: Taxon,
    quantity: int,
    wanted_on: date,
    today: date,
    pot_size: str = "",
    customer: str = "",
    code: str = "",
    now: datetime | None = None,
    record_id: UUID | None = None,
) -> Order:
    """Write an order down; without a code of the nursery's own it gets the next one of its year.

    Sent again with the same ``record_id``, nothing is stored twice.

    Raises
    ------
    NotUnderstood, OutOfTime
        For a quantity below one, or a day that is over.
    AlreadyTaken, BadCode
        When the own code is taken or cannot be a code.
    """
    if not 1 <= quantity <= _MOST_POTS:
        raise NotUnderstood(
            f"An order is of 1 to {_MOST_POTS:,} pots. Nothing was stored.", field="quantity"
        )
    if wanted_on < today:
        raise OutOfTime(
            f"{day_words(wanted_on)} is over: no order can be wanted by then. Nothing was stored; "
            "look at the date again.",
            field="wanted_on",
        )
    with transaction.atomic():
        again = made_before(record_id=record_id, kind="order")
        if again:
            return Order.objects.get(code=again)
        own = code.strip()
        kept = (
            take_own_code(code=own, kind="order")
            if own
            else give_kind_code(kind="order", year=today.year)
        )
        recorded_at = now or at_noon(today)
        note_made(record_id=record_id, kind="order", code=kept, now=recorded_at)
        return Order.objects.create(
            code=kept,
            taxon=taxon,
            quantity=quantity,
            pot_size=pot_size.strip()[:20],
            wanted_on=wanted_on,
            customer=customer.strip()[:120],
        )


def close_order(*, order: Order, today: date) -> Order:
    """Close an order, fulfilled or called off; closed before, it stays as it was."""
    Order.objects.open().filter(pk=order.pk).update(closed_on=today)
    order.refresh_from_db()
    return order


def open_again(*, order: Order) -> Order:
    """Take the closing of an order back."""
    Order.objects.filter(pk=order.pk).update(closed_on=None)
    order.refresh_from_db()
    return order


def progress_of(*, orders: Iterable[Order]) -> tuple[OrderProgress, ...]:
    """Return how far each order is, in the order given; one query for all of them."""
    listed = list(orders)
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="dispatch", order__in=listed)
        .values("order")
        .annotate(pots=Sum("quantity"))
    )
    left: dict[int, int] = {row["order"]: row["pots"] for row in rows.order_by()}
    return tuple(
        OrderProgress(order=order, ordered=order.quantity, dispatched=left.get(order.pk, 0))
        for order in listed
    )


def require_open(order: Order, *, taxon: Taxon) -> None:
    """Raise `NotPossibleNow` when the order is closed or is for another fern."""
    if order.closed_on is not None:
        raise NotPossibleNow(
            f"Order {order.code} was closed on {day_words(order.closed_on)}. Nothing was stored; "
            "open it again first, or dispatch without it.",
            field="order",
        )
    if order.taxon_id != taxon.pk:
        raise NotPossibleNow(
            f"Order {order.code} is for {order.taxon}, and these are {taxon}. Nothing was stored.",
            field="order",
        )
