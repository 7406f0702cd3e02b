"""Does every counted tray's stock book add up to the number that is stored for it?"""

from __future__ import annotations

from collections import defaultdict

from django.db.models import F, Sum
from django.db.models.functions import Coalesce

from batches.models import PlantMovement, Tray

#: kinds that add; every other takes away
_ADDS = {"in", "recount"}


def books_that_differ() -> tuple[int, tuple[str, ...]]:
    """Return how many trays are counted, and the codes of those whose book does not add up.

    Added up by the database, three queries whatever the number of trays, and apart from the code
    that keeps the book (`batches.core.ledger`). Below nothing is wrong, too.
    """
    sums: defaultdict[int, int] = defaultdict(int)
    standing = PlantMovement.objects.standing().order_by()
    for tray, kind, total in standing.values_list("tray", "kind").annotate(total=Sum("quantity")):
        sums[tray] += total if kind in _ADDS else -total
    arrived = standing.filter(to_tray__isnull=False).values_list("to_tray")
    for tray, total in arrived.annotate(total=Sum(Coalesce(F("arrived"), F("quantity")))):
        sums[tray] += total
    counted = list(Tray.objects.filter(alive__isnull=False).values_list("pk", "code", "alive"))
    wrong = [code for pk, code, alive in counted if alive != sums[pk] or sums[pk] < 0]
    return len(counted), tuple(sorted(wrong))
