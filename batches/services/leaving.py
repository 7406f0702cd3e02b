"""What becomes of a parent after a picking: losses, more to come, or cleared?"""

from __future__ import annotations

from collections.abc import Sequence

from batches.core.errors import NotPossibleNow, NotUnderstood, OutOfTime
from batches.models import PlantMovement, Tray
from batches.services.days import day_words
from batches.services.filling import Deed
from batches.services.picking_rules import ParentAfter
from batches.services.tray_life import require_last_day, require_losses


def write_losses(deed: Deed, held: dict[int, Tray], afterwards: Sequence[ParentAfter]) -> None:
    """Store what was lost during a picking; errors as `require_losses`."""
    PlantMovement.objects.bulk_create(
        PlantMovement(
            id=deed.id_of(f"loss|{after.parent.code}|{place}"),
            tray=held[after.parent.pk],
            on=deed.on,
            at=deed.at,
            kind="loss",
            quantity=quantity,
            cause=cause,
            by=deed.by.strip()[:80],
            recorded_at=deed.now,
        )
        for after in afterwards
        for place, (quantity, cause) in enumerate(require_losses(after.losses))
    )


def leave(deed: Deed, parent: Tray, after: ParentAfter | None, *, left_over: int) -> None:
    """Note when to come back to a parent, or clear it.

    Raises
    ------
    NotPossibleNow, NotUnderstood, OutOfTime
        When something counted is left in a tray to be cleared, or the day lies before the picking.
    """
    back = None if after is None else after.come_back_on
    if back is not None and back < deed.on:
        raise OutOfTime(
            f"{day_words(back)} lies before this picking. Nothing was stored; look at the date "
            "again.",
            field="come_back_on",
        )
    parent.come_back_on = back
    if after is not None and after.end:
        if back is not None:
            raise NotUnderstood(
                f"Tray {parent.code} is either cleared or come back to, not both.", field="end"
            )
        if parent.alive is not None and left_over > 0:
            raise NotPossibleNow(
                f"{left_over} {parent.unit} are still in tray {parent.code}. Nothing was stored: "
                "keep the tray, say how many were lost and why, or discard the rest.",
                field="end",
            )
        require_last_day(parent, deed.on)
        parent.ended_on, parent.end = deed.on, "cleared"
    parent.save(update_fields=["come_back_on", "ended_on", "end"])
