"""How many trays are sown, and when at the latest, for so many pots by a day?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from batches.core.errors import NotPossibleNow
from batches.core.sowing import DRAWS, PlanRow, SowingAnswer, plan_sowing
from batches.core.stages import Route
from batches.models import Taxon
from batches.services.days import day_words
from batches.services.forecasting import SEED, Raising


@dataclass(frozen=True, slots=True, kw_only=True)
class SowingPlan:
    """The answer with its days as dates.

    ``trays`` and ``sow_by`` are None where it cannot be met; ``chance`` is then the best there is.
    """

    taxon: Taxon
    pots: int
    by: date
    on: date
    asked_chance: float
    trays: int | None
    sow_by: date | None
    chance: float
    expected_pots: float
    reason: str
    table: tuple[tuple[date, PlanRow], ...]
    yields_from: str


def plan_for(
    *,
    taxon: Taxon,
    pots: int,
    by: date,
    on: date,
    chance: float = 0.9,
    seed: int = SEED,
    draws: int = DRAWS,
) -> SowingPlan:
    """Return the smallest sowing of a fern that gives the pots by the day with the chance.

    The route is the first the fern is raised by: from spores unless it is raised otherwise.

    Raises
    ------
    BadPlan
        When pots or chance make no sense.
    NotPossibleNow
        When the fern is only bought in.
    """
    route = next((route for route in taxon.raised_by if route is not Route.BOUGHT_IN), None)
    if route is None:
        raise NotPossibleNow(
            f"{taxon} is bought in and not raised here; there is nothing to sow.", field="taxon"
        )
    raising = Raising(on=on, draws=draws, seed=seed)
    answer = plan_sowing(
        raising.model(taxon, route),
        pots=pots,
        days=(by - on).days,
        chance=chance,
        seed=seed,
        draws=draws,
    )
    sow_by = None if answer.sow_in is None else on + timedelta(days=answer.sow_in)
    yields_from = raising.yields(taxon)[1]
    return SowingPlan(
        taxon=taxon,
        pots=pots,
        by=by,
        on=on,
        asked_chance=chance,
        trays=answer.trays,
        sow_by=sow_by,
        chance=answer.best_chance if answer.trays is None else answer.chance,
        expected_pots=answer.expected_pots,
        reason=_reason(answer, pots=pots, by=by, on=on, chance=chance, yields_from=yields_from),
        table=tuple((on + timedelta(days=row.sow_in), row) for row in answer.table),
        yields_from=yields_from,
    )


def _reason(
    answer: SowingAnswer, *, pots: int, by: date, on: date, chance: float, yields_from: str
) -> str:
    if by <= on:
        days = f"{day_words(by)} is not after {day_words(on)}"
        return f"{days}: nothing sown later can be ready by then."
    lead = answer.usual_lead_days
    usual = f"half of all trays take longer than {lead:.0f} days" if lead < 10_000 else (
        "more than half of all trays never get there"
    )  # fmt: skip
    if answer.trays is None:
        return (
            f"Even sown tomorrow, {pots} pots by {day_words(by)} are reached with a chance of "
            f"{answer.best_chance:.0%} at best, not {chance:.0%}: {usual}."
        )
    reach = "1 tray reaches" if answer.trays == 1 else f"{answer.trays} trays reach"
    return (
        f"{reach} {pots} pots with a chance of {answer.chance:.0%}; sown later, more are needed. "
        f"From sowing to ready {usual}; yields from {yields_from}."
    )
