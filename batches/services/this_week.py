"""What is there to do this week beyond looks: prick out, pot up, what becomes ready, what leaves?

Counts come from the stock book where a tray is counted, else from what this nursery's trays of
the fern have given so far.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import ceil
from statistics import median, quantiles

from django.db.models import Sum
from django.db.models.functions import Coalesce

from batches.core.rest import in_weeks
from batches.core.stages import RESTING_STAGES, Stage
from batches.models import PlantMovement, Tray
from batches.services.free_places import bench_rooms
from batches.services.orders_leaving import Leaving, orders_leaving
from batches.services.shut_places import shut_places
from batches.services.usual_mixes import usual_mixes

DAYS = 7
#: cells of the tray that is reckoned with, and its volume in litres a cell; an 84-cell tray holds
#: about 30 mL a cell (common practice, no source)
CELLS = 84
LITRES_A_CELL = 0.030
#: pots of 9 cm in one carrier; common practice, no source
POTS_A_CARRIER = 18
LITRES_A_POT = {"9 cm": 0.5, "1 L": 1.0}
_LITRES_OTHER_POT = 0.5
#: weeks ahead in which Today says what must be potted before a fern's last week for it
POT_UP_WARNING_WEEKS = 3
#: plants one person moves in a day where the nursery has no records; common practice, no source
USUAL_A_DAY = 600
HOURS_A_DAY = 7.0
#: on fewer days with moved plants nothing is said of the nursery's own pace
FEWEST_DAYS = 10


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

    ``mixes`` parts the litres by recipe, the most first.
    """

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
    """Work of seven days: trays and what they take, pots that become ready, orders that leave."""

    until: date
    prick_out: tuple[WorkItem, ...]
    prick_out_needs: Needs
    pot_up: tuple[WorkItem, ...]
    pot_up_needs: Needs
    becomes_ready: tuple[BecomesReady, ...]
    leaving: tuple[Leaving, ...]
    free_places: int
    pace_known: bool

    @property
    def nothing(self) -> bool:
        """Whether there is nothing to say."""
        return not (self.prick_out or self.pot_up or self.becomes_ready or self.leaving)


def weeks_work(*, today: date, keys: Container[str] | None = None) -> WeeksWork:
    """Return the work of the seven days from today; a constant number of queries.

    Parameters
    ----------
    keys : container of str, optional
        Only these lines, as they were given to somebody; what becomes ready and what leaves is
        nobody's line and then left out.
    """
    until = today + timedelta(days=DAYS - 1)
    shut = shut_places(on=today)
    trays = [
        tray
        for tray in Tray.objects.active()
        .filter(control=False, isolated=False)
        .exclude(stage__in=["sown", "gametophyte", "pegged_down", "divided", "ready"])
        .with_fern()
        .order_by("expected_on", "code")
        if not shut.covers(tray)
    ]
    yields = _yields()
    pace, known = _pace(today)
    everything = keys is None
    pricking = [
        item for item in _to_prick_out(trays, until, yields) if keys is None or item.key in keys
    ]
    potting = [item for item in _to_pot_up(trays, today, until) if keys is None or item.key in keys]
    mixes = usual_mixes()
    cells = _needs(
        pricking, per_tray=CELLS, litres_each=lambda _: LITRES_A_CELL, pace=pace,
        recipe_of=lambda tray: mixes.of(tray.batch.taxon_id, Stage.PRICKED_OUT),
    )  # fmt: skip
    pots = _needs(
        potting, per_tray=POTS_A_CARRIER, litres_each=_litres_a_pot, pace=pace,
        recipe_of=lambda tray: mixes.of(tray.batch.taxon_id, Stage.POTTED_UP),
    )  # fmt: skip
    return WeeksWork(
        until=until,
        prick_out=tuple(pricking),
        prick_out_needs=cells,
        pot_up=tuple(potting),
        pot_up_needs=pots,
        becomes_ready=tuple(_becoming_ready(trays, today, until)) if everything else (),
        leaving=tuple(orders_leaving(until=until)) if everything else (),
        free_places=sum(room.free or 0 for room in bench_rooms()),
        pace_known=known,
    )


def _to_prick_out(
    trays: Iterable[Tray], until: date, yields: dict[int, float]
) -> Iterable[WorkItem]:
    for tray in trays:
        if Stage(tray.stage) not in (Stage.FIRST_FROND, Stage.ROOTED):
            continue
        if tray.come_back_on is not None:
            if tray.come_back_on > until:
                continue
            why = f"more to come, come back on {tray.come_back_on.day} {tray.come_back_on:%b}"
        elif tray.first_picked_on is None and tray.expected_on and tray.expected_on <= until:
            why = f"first picking expected by {tray.expected_on.day} {tray.expected_on:%b}"
        else:
            continue
        plants = tray.alive if tray.unit == "plants" else None
        if plants is None and tray.batch.taxon_id in yields:
            plants = round(yields[tray.batch.taxon_id])
        yield WorkItem(key=f"prick_out:{tray.code}", tray=tray, why=why, plants=plants)


def _to_pot_up(trays: Iterable[Tray], today: date, until: date) -> Iterable[WorkItem]:
    for tray in trays:
        stage = Stage(tray.stage)
        if stage not in (Stage.PRICKED_OUT, Stage.ROOTED_IN):
            continue
        taxon = tray.batch.taxon
        last = taxon.last_pot_up_week
        weeks_left = None if last is None else last - today.isocalendar().week
        if weeks_left is not None and 0 <= weeks_left <= POT_UP_WARNING_WEEKS:
            why = f"pot before the end of week {last}, the last for this fern"
        elif (weeks_left is not None and weeks_left < 0) or _rests(tray, stage, today):
            continue
        elif tray.expected_on is not None and tray.expected_on <= until:
            why = f"potting up expected by {tray.expected_on.day} {tray.expected_on:%b}"
        else:
            continue
        yield WorkItem(key=f"pot_up:{tray.code}", tray=tray, why=why, plants=tray.alive)


def _rests(tray: Tray, stage: Stage, today: date) -> bool:
    return stage in RESTING_STAGES and in_weeks(today, tray.batch.taxon.rest_weeks)


def _becoming_ready(trays: Iterable[Tray], today: date, until: date) -> Iterable[BecomesReady]:
    for tray in trays:
        expected = tray.expected_on
        if Stage(tray.stage) is Stage.POTTED_UP and expected and today <= expected <= until:
            yield BecomesReady(tray=tray, pots=tray.alive)


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
    items: list[WorkItem],
    *,
    per_tray: int,
    litres_each: Callable[[Tray], float],
    pace: float,
    recipe_of: Callable[[Tray], str],
) -> Needs:
    plants = sum(item.plants or 0 for item in items)
    by_recipe: defaultdict[str, float] = defaultdict(float)
    for item in items:
        if item.plants:
            by_recipe[recipe_of(item.tray)] += item.plants * litres_each(item.tray)
    litres = sum(by_recipe.values())
    mixes = sorted(by_recipe.items(), key=lambda mix: (-mix[1], mix[0]))
    return Needs(
        plants=plants,
        trays=sum(ceil((item.plants or 0) / per_tray) for item in items),
        litres=round(litres, 1),
        hours=round(plants / pace * HOURS_A_DAY, 1),
        mixes=tuple(Mix(recipe=recipe, litres=round(much, 1)) for recipe, much in mixes),
    )


def _litres_a_pot(tray: Tray) -> float:
    return LITRES_A_POT.get(tray.pot_size, _LITRES_OTHER_POT)
