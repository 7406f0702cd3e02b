"""What from the bench contradicts the records, and how was it settled?"""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from batches.core.errors import NotPossibleNow
from batches.models import ToSettle


def waiting_to_be_settled() -> list[ToSettle]:
    """Return what waits, the oldest first."""
    return list(ToSettle.objects.open().select_related("tray")[:500])


def settle(*, item_id: UUID, how: str, by: str, now: datetime) -> ToSettle:
    """Note how something was settled; it and what was sent stay readable.

    Raises
    ------
    NotPossibleNow
        When it was settled before, or never waited.
    """
    rows = ToSettle.objects.open().filter(pk=item_id)
    if not rows.update(settled_at=now, settled_by=by[:80], settled_how=how.strip()[:200]):
        raise NotPossibleNow("This was settled already. Nothing was changed.")
    return ToSettle.objects.get(pk=item_id)
