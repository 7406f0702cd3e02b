"""How do plants come through by lot, by medium, by house; what were the losses, month by month?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.signs import CAUSE_WORDS
from batches.core.stages import STAGE_WORDS, Stage
from batches.core.survival import (
    SurvivalEstimate,
    TrayPassage,
    default_rate_prior,
    estimate_survival,
)
from batches.models import PlantMovement, Taxon, Tray
from batches.services.survival_rates import trays_passed

#: what the rates can be parted by → its word
GROUPS = {"fern": "fern", "lot": "lot", "medium": "medium batch", "house": "house"}


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupRate:
    """How plants of one group came through one stage; ``label`` is for a chart."""

    group: str
    from_stage: Stage
    to_stage: Stage
    estimate: SurvivalEstimate

    @property
    def label(self) -> str:
        """The group with the stage it left."""
        return f"{self.group}, {STAGE_WORDS[self.from_stage]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthLosses:
    """Plants lost in a month, by cause in words."""

    label: str
    by_cause: dict[str, int]

    @property
    def total(self) -> int:
        """All plants lost in the month."""
        return sum(self.by_cause.values())


def rates_by(*, group: str, on: date, taxon: Taxon | None = None) -> tuple[GroupRate, ...]:
    """Return the rates of every lot, medium batch or house, by what had left a stage by a day.

    Trays without such a thing are left out. The rates of a group lean on nobody: they are
    there to be compared.
    """
    name = _NAMES[group]
    found: defaultdict[tuple[str, Stage, Stage], list[TrayPassage]] = defaultdict(list)
    for one in trays_passed(on=on):
        word = name(one.tray)
        if not word or (taxon is not None and one.tray.batch.taxon_id != taxon.pk):
            continue
        found[word, one.passed.from_stage, one.passed.to_stage].append(
            TrayPassage(plants_in=one.passed.plants_in, plants_out=one.passed.plants_out)
        )
    order = {stage: place for place, stage in enumerate(Stage)}
    return tuple(
        GroupRate(
            group=key[0],
            from_stage=key[1],
            to_stage=key[2],
            estimate=estimate_survival(rows, prior=default_rate_prior(key[1])),
        )
        for key, rows in sorted(
            found.items(), key=lambda item: (order[item[0][1]], item[0][0], order[item[0][2]])
        )
    )


def losses_by_month(
    *, on: date, months: int = 12, taxon: Taxon | None = None
) -> tuple[MonthLosses, ...]:
    """Return the plants lost in each of the last months, this one last."""
    first = on.replace(day=1)
    starts = [first]
    for _ in range(months - 1):
        first = (first - timedelta(days=1)).replace(day=1)
        starts.insert(0, first)
    rows = PlantMovement.objects.standing().filter(kind="loss", on__range=(starts[0], on))
    if taxon is not None:
        rows = rows.filter(tray__batch__taxon=taxon)
    sums: defaultdict[date, defaultdict[str, int]] = defaultdict(lambda: defaultdict(int))
    for day, cause, quantity in rows.values_list("on", "cause", "quantity"):
        sums[day.replace(day=1)][CAUSE_WORDS.get(cause, "no cause noted")] += quantity
    return tuple(
        MonthLosses(label=f"{start:%b %Y}", by_cause=dict(sums.get(start, {}))) for start in starts
    )


def _medium(tray: Tray) -> str:
    medium = tray.medium
    return "" if medium is None else medium.code


_NAMES: dict[str, Callable[[Tray], str]] = {
    "fern": lambda tray: tray.batch.taxon.code,
    "lot": lambda tray: "" if tray.batch.spore_lot is None else tray.batch.spore_lot.code,
    "medium": _medium,
    "house": lambda tray: "" if tray.bench is None else tray.bench.house.code,
}
