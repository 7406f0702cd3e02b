"""Which counts from the bench turn out to be above the stock book once an earlier look arrives?

A tablet's count above the stock book waits outside it. Where the look that lowers the book arrives
after such a count, the count was taken in already: it is set aside then, so that the order of
arrival makes no difference. The look itself stays, with what was counted.
"""

from __future__ import annotations

import uuid
from datetime import datetime

from batches.models import PlantMovement, ToSettle, TrayCheck
from batches.services.stock_book import recount_of
from batches.services.strikes import strike_out

_ASIDE = uuid.UUID("0d7b0a53-7d0c-4d39-9d0a-5f0f6ad0f3c4")


def set_aside_counts_after(*, check: TrayCheck, now: datetime) -> tuple[PlantMovement, ...]:
    """Set aside the rows of later tablets' counts that now add to the book; return those rows.

    Each is struck out and waits to be settled; the counts after it are settled anew. Empty when
    every later count agrees or lies below the book.
    """
    aside: list[PlantMovement] = []
    later = (
        TrayCheck.objects.standing()
        .filter(tray=check.tray_id, count__isnull=False, about=False, source="tablet")
        .filter(seen_at__gt=check.seen_at)
        .order_by("seen_at", "device", "device_seq", "id")
    )
    for count in later:
        row = recount_of(count.id)
        if row is not None and row.kind == "recount" and row.quantity > 0:
            strike_out(row=row, by=check.by, now=now, record_id=uuid.uuid5(_ASIDE, str(row.id)))
            _keep_to_settle(count, row, now=now)
            aside.append(row)
    return tuple(aside)


def _keep_to_settle(count: TrayCheck, row: PlantMovement, *, now: datetime) -> None:
    ToSettle.objects.create(
        id=uuid.uuid5(_ASIDE, f"count|{row.id}"),
        item={
            "id": str(count.id), "kind": "check", "tray": count.tray.code, "by": count.by,
            "occurred_at": count.seen_at.isoformat(), "count": count.count,
        },
        reason=(
            f"{count.count} were counted in tray {count.tray.code}, {row.quantity} more than its "
            "stock book holds since an earlier look arrived. The count was set aside."
        ),
        tray=count.tray,
        by=count.by,
        recorded_at=now,
    )  # fmt: skip
