"""What that waits may have become possible, now that these items have arrived?

Only what names a tray that was touched is looked at again: hundreds of things may wait for the
manager while tablets go on sending.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from batches.models import ToSettle, TrayCheck
from batches.services.sync_items import struck_id, text_of


def codes_touched(items: Iterable[object]) -> set[str]:
    """Return the codes of the trays that these items name, or strike a look of; one query."""
    found: set[str] = set()
    struck = []
    for raw in items:
        if isinstance(raw, dict):
            found |= codes_named(raw)
            struck.append(struck_id(raw))
    looks = TrayCheck.objects.filter(pk__in=[one for one in struck if one is not None])
    return found | set(looks.values_list("tray__code", flat=True))


def codes_named(raw: Mapping[str, Any]) -> set[str]:
    """Return the codes of the trays that an item names: its own, and those that were filled."""
    named = raw.get("trays")
    into = [one for one in named if isinstance(one, dict)] if isinstance(named, list) else []
    codes = {text_of(raw.get("tray")), *(text_of(one.get("code")) for one in into)}
    return codes - {""}


def waiting_at(codes: set[str]) -> list[ToSettle]:
    """Return what waits as a whole and names one of these trays, the earliest first; two queries.

    A look that is stored already waits with what it could not prove: it is not among them.
    """
    rows = ToSettle.objects.open().filter(at__isnull=False).exclude(item__kind="strike_out")
    found = [
        one
        for one in rows.select_related("device").order_by("at", "id")
        if codes_named(one.item) & codes
    ]
    stored = set(
        TrayCheck.objects.filter(pk__in=[one.pk for one in found]).values_list("pk", flat=True)
    )
    own = [one for one in found if text_of(one.item.get("id")).lower() == str(one.pk)]
    return [one for one in own if one.pk not in stored]
