"""Which orders are open, which are all gone and wait to be closed?"""

from __future__ import annotations

from datetime import date

from django.db.models import F, IntegerField, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from batches.models import Order, PlantMovement

#: which orders a list shows: word of the address → words on the page
SHOWN = (("to_go", "to go"), ("gone", "all gone, to close"), ("all", "all"))


def orders_shown(*, show: str) -> QuerySet[Order]:
    """Return the orders of one of `SHOWN`; an unknown word is all of them."""
    found = Order.objects.select_related("taxon")
    if show == "to_go":
        return found.open().annotate(gone=_gone()).filter(gone__lt=F("quantity"))
    if show == "gone":
        return found.open().annotate(gone=_gone()).filter(gone__gte=F("quantity"))
    return found


def close_gone(*, today: date) -> int:
    """Close every order of which as much has left as was ordered; return how many."""
    gone = orders_shown(show="gone").values_list("pk", flat=True)
    return Order.objects.open().filter(pk__in=list(gone)).update(closed_on=today)


def _gone() -> Coalesce:
    """Return how many pots left for each order, as a column."""
    left = (
        PlantMovement.objects.standing()
        .filter(kind="dispatch", order=OuterRef("pk"))
        .order_by()
        .values("order")
        .annotate(pots=Sum("quantity"))
        .values("pots")
    )
    return Coalesce(Subquery(left, output_field=IntegerField()), 0)
