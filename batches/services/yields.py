"""What has a tray given so far, all its pickings together?"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from batches.core.stages import STAGE_WORDS, Stage
from batches.models import PlantMovement, Tray


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    """What went into trays of one kind: ``left`` in the giver's unit, ``arrived`` in ``unit``.

    ``pickings`` counts the days on which something was taken.
    """

    into: str
    pickings: int
    left: int
    arrived: int
    unit: str


def yields_of(*, tray: Tray) -> tuple[Yield, ...]:
    """Return the sums of a tray's standing pickings by what they became; empty before the first.

    Patches set out anew and gaps closed in a sister tray are sums of their own. One query.
    """
    rows = (
        PlantMovement.objects.standing()
        .filter(tray=tray, kind="out", to_tray__isnull=False)
        .order_by("on")
        .values_list("to_tray__start_stage", "to_tray__unit", "on", "quantity", "arrived")
    )
    days: defaultdict[tuple[str, str], set[date]] = defaultdict(set)
    left: defaultdict[tuple[str, str], int] = defaultdict(int)
    arrived: defaultdict[tuple[str, str], int] = defaultdict(int)
    for start, unit, on, quantity, there in rows:
        key = (start, unit)
        days[key].add(on)
        left[key] += quantity
        arrived[key] += quantity if there is None else there
    return tuple(
        Yield(
            into=STAGE_WORDS[Stage(start)], pickings=len(days[start, unit]),
            left=left[start, unit], arrived=arrived[start, unit], unit=unit,
        )
        for start, unit in days
    )  # fmt: skip
