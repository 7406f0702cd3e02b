"""How do thousands of trays share one row of a batch or bench, so that it is read and kept once?"""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from batches.models import Tray


def with_shared(trays: QuerySet[Tray], **rows: QuerySet[Any]) -> list[Tray]:
    """Read trays, and give those that name the same row one object of it; one query more a name.

    In place of `prefetch_related`: that asks on SQLite for ``id = 1 OR id = 2 OR …``, and of more
    than a thousand different rows SQLite refuses that as too deep (seen with Django 5.2).

    Parameters
    ----------
    rows : QuerySet
        By the name of the tray's column (``batch``, ``bench``), what is to be read of it.
    """
    found = list(trays)
    for name, wanted in rows.items():
        ids = {getattr(tray, f"{name}_id") for tray in found} - {None}
        by_pk = {row.pk: row for row in wanted.filter(pk__in=ids)}
        for tray in found:
            row = by_pk.get(getattr(tray, f"{name}_id"))
            if row is not None:
                setattr(tray, name, row)
    return found
