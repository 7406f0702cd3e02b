"""What is there to do this week beyond looks: prick out, pot up, what becomes ready, what leaves?

Counts come from the stock book where a tray is counted, else from what this nursery's trays of
the fern have given so far.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Container
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from statistics import median, quantiles

from django.db.models import Sum
from django.db.models.functions import Coalesce

from batches.core.stages import Stage
from batches.models import PlantMovement, Tray
from batches.services.free_places import free_places_of_all
from batches.services.orders_leaving import Leaving, orders_leaving
from batches.services.usual_mixes import UsualMixes, usual_mixes
from batches.services.weeks_trays import (
    TrayRow,
    Work,
    becoming_ready,
    open_to_work,
    to_pot_up,
    to_prick_out,
)

DAYS = 7
#: cells of the tray that is reckoned with, and its volume in litres a cell; an 84-cell tray holds
#: about 30 mL a cell (common practice, no source)
CELLS = 84
LITRES_A_CELL = 0.030
#: pots of 9 cm in one carrier; common practice, no source
POTS_A_CARRIER = 18
LITRES_A_POT = {"9 cm": 0.5, "1 L": 1.0}
_LITRES_OTHER_POT = 0.5
#: plants one person moves in a day where the nursery has no records; common practice, no source
USUAL_A_DAY = 600
HOURS_A_DAY = 7.0
#: on fewer days with moved plants nothing is said of the nursery's own pace
FEWEST_DAYS = 10


#: how many trays of each kind of work are named; the others are counted
NAMED = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkItem:
    """One tray to prick out or pot up; ``plants`` is None where nothing can be said."""

    key: str
    tray: Tray
    why: str
    plants: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """Litres of one recipe; an empty recipe is one that nobody noted."""

    recipe: str
    litres: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a heap of work takes: new trays, litres of mix, labels and a guess of hours.

    ``mixes`` parts the litres by recipe, the most first; ``out_of`` counts the trays to be opened.
    """

    out_of: int
    plants: int
    trays: int
    litres: float
    hours: float
    mixes: tuple[Mix, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class BecomesReady:
    """Pots of one fern and size that are expected to be ready this week."""

    tray: Tray
    pots: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeksWork:
    """Work of seven days: trays and what they take, pots that become ready, orders that leave.

    Of each kind the first trays are named; the needs and ``readying`` count all of them.
    ``free_places`` is None where nothing is to be pricked out: then nobody asks for places.
    """

    until: date
    prick_out: tuple[WorkItem, ...]
    prick_out_needs: Needs
    pot_up: tuple[WorkItem, ...]
    pot_up_needs: Needs
    becomes_ready: tuple[BecomesReady, ...]
    readying: int
    leaving: tuple[Leaving, ...]
    free_places: int | None
    pace_known: bool

    @property
    def nothing(self) -> bool:
        """Whether there is nothing to say."""
        return not (self.prick_out or self.pot_up or self.becomes_ready or self.leaving)

    @property
    def not_named(self) -> int:
        """How many trays have work this week beside those named."""
        there = self.prick_out_needs.out_of + self.pot_up_needs.out_of + self.readying
        return there - len(self.prick_out) - len(self.pot_up) - len(self.becomes_ready)


def weeks_work(
    *, today: date, keys: Container[str] | None = None, named: int | None = NAMED
) -> WeeksWork:
    """Return the work of the seven days from today; a constant number of queries.

    Parameters
    ----------
    keys : container of str, optional
        Only these lines, as they were given to somebody; what becomes ready and what leaves is
        nobody's line and then left out.
    named : int, optional
        How many trays of each kind are named; None names all of them.
    """
    until = today + timedelta(days=DAYS - 1)
    standing = open_to_work(today=today)
    pace, known = _pace(today)
    everything = keys is None
    pricking = list(to_prick_out(standing, until=until, yields=_yields()))
    potting = list(to_pot_up(standing, today=today, until=until))
    if keys is not None:
        pricking = [work for work in pricking if work.key in keys]
        potting = [work for work in potting if work.key in keys]
    readying = becoming_ready(standing, today=today, until=until)
    some_plants = any(work.plants for work in (*pricking, *potting))
    mixes = usual_mixes() if some_plants else UsualMixes(last={}, most={})
    cells = _needs(
        pricking, per_tray=CELLS, litres_each=lambda _: LITRES_A_CELL, pace=pace,
        recipe_of=lambda row: mixes.of(row.batch__taxon, Stage.PRICKED_OUT),
    )  # fmt: skip
    pots = _needs(
        potting, per_tray=POTS_A_CARRIER, litres_each=_litres_a_pot, pace=pace,
        recipe_of=lambda row: mixes.of(row.batch__taxon, Stage.POTTED_UP),
    )  # fmt: skip
    first = [work.row.pk for work in (*pricking[:named], *potting[:named])]
    trays = Tray.objects.with_fern().in_bulk(first)
    return WeeksWork(
        until=until,
        prick_out=tuple(_named(work, trays) for work in pricking[:named]),
        prick_out_needs=cells,
        pot_up=tuple(_named(work, trays) for work in potting[:named]),
        pot_up_needs=pots,
        becomes_ready=tuple(
            BecomesReady(tray=tray, pots=tray.alive)
            for tray in (readying.with_fern()[:named] if everything else ())
        ),
        readying=readying.count() if everything else 0,
        leaving=tuple(orders_leaving(until=until)) if everything else (),
        free_places=free_places_of_all() if pricking else None,
        pace_known=known,
    )


def _named(work: Work, trays: dict[int, Tray]) -> WorkItem:
    tray = trays[work.row.pk]
    return WorkItem(key=work.key, tray=tray, why=work.why(tray), plants=work.plants)


def _yields() -> dict[int, float]:
    """Return the median yield of one covered tray by fern: all its pickings together."""
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="out", to_tray__start_stage="pricked_out")
        .values_list("tray__batch__taxon", "tray", "quantity", "arrived")
    )
    sums: defaultdict[tuple[int, int], int] = defaultdict(int)
    for taxon, tray, quantity, arrived in rows:
        sums[taxon, tray] += quantity if arrived is None else arrived
    by_fern: defaultdict[int, list[int]] = defaultdict(list)
    for (taxon, _), plants in sums.items():
        by_fern[taxon].append(plants)
    return {taxon: median(plants) for taxon, plants in by_fern.items()}


def _pace(today: date) -> tuple[float, bool]:
    """Return plants one person moves on a full day, and whether the nursery's records say so.

    A full day is the busiest tenth of the last year's days on which somebody moved plants: most
    days hold other work too.
    """
    rows = (
        PlantMovement.objects.standing()
        .filter(kind="out", to_tray__isnull=False, on__gte=today - timedelta(days=366))
        .exclude(by="")
        .values("by", "on")
        .annotate(plants=Sum(Coalesce("arrived", "quantity")))
        .order_by()
    )
    days = [row["plants"] for row in rows]
    if len(days) < FEWEST_DAYS:
        return float(USUAL_A_DAY), False
    return float(quantiles(days, n=10)[-1]), True


def _needs(
    works: list[Work],
    *,
    per_tray: int,
    litres_each: Callable[[TrayRow], float],
    pace: float,
    recipe_of: Callable[[TrayRow], str],
) -> Needs:
    plants = sum(work.plants or 0 for work in works)
    by_recipe: defaultdict[str, float] = defaultdict(float)
    for work in works:
        if work.plants:
            by_recipe[recipe_of(work.row)] += work.plants * litres_each(work.row)
    litres = sum(by_recipe.values())
    mixes = sorted(by_recipe.items(), key=lambda mix: (-mix[1], mix[0]))
    return Needs(
        out_of=len(works),
        plants=plants,
        trays=sum(ceil((work.plants or 0) / per_tray) for work in works),
        litres=round(litres, 1),
        hours=round(plants / pace * HOURS_A_DAY, 1),
        mixes=tuple(Mix(recipe=recipe, litres=round(much, 1)) for recipe, much in mixes),
    )


def _litres_a_pot(row: TrayRow) -> float:
    return LITRES_A_POT.get(row.pot_size, _LITRES_OTHER_POT)
