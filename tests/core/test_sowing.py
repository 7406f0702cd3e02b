"""Is the plan the smallest sowing on any day, and the latest day for it?"""

from __future__ import annotations

import numpy as np
import pytest

from batches.core.raising import Rate
from batches.core.sowing import BadPlan, _lead_and_pots, plan_sowing
from batches.core.stages import Stage
from batches.core.under_way import HORIZON
from tests.core.test_forecast import model

RATES = {
    Stage.PRICKED_OUT: Rate(mean=0.9, plants=400),
    Stage.POTTED_UP: Rate(mean=0.95, plants=400),
}


def fern(**more):
    return model(rates=RATES, tray_days=20_000, losses=2, **more)


def plan(*, days=500, pots=500, chance=0.9, of=None, seed=5):
    return plan_sowing(of or fern(), pots=pots, days=days, chance=chance, seed=seed, draws=1_000)


def naive_chance(of, *, trays, sow_in, days, pots, seed=77):
    """The chance by another seed, tray by tray."""
    lead, given = _lead_and_pots(of, trays=trays, draws=1_500, seed=seed, sow_in=sow_in)
    hits = 0
    for row, some in zip(lead, given, strict=True):
        total = 0.0
        for tray_lead, tray_pots in zip(row, some, strict=True):
            if sow_in + np.ceil(tray_lead) <= days:
                total += tray_pots
        hits += total >= pots
    return hits / len(lead)


def test_the_plan_holds_by_other_draws_and_one_tray_less_falls_short():
    found = plan()
    assert found.trays is not None
    assert found.sow_in is not None
    assert found.chance >= 0.9
    told = naive_chance(fern(), trays=found.trays, sow_in=found.sow_in, days=500, pots=500)
    assert told == pytest.approx(found.chance, abs=0.04)
    less = naive_chance(fern(), trays=found.trays - 2, sow_in=1, days=500, pots=500)
    assert less < 0.93


def test_later_sowings_need_more_trays_until_none_do():
    found = plan()
    after = [row for row in found.table if row.sow_in >= (found.sow_in or 0)]
    needed = [row.trays for row in after if row.trays is not None]
    assert needed == sorted(needed)
    assert needed[0] == found.trays
    assert after[-1].trays is None


def test_a_day_later_than_the_latest_needs_more():
    found = plan()
    assert found.trays is not None
    later = (found.sow_in or 0) + 1
    told = naive_chance(fern(), trays=found.trays, sow_in=later, days=500, pots=500, seed=5)
    assert told < 0.93


def test_where_it_cannot_be_met_there_is_no_plan_but_a_best_chance():
    found = plan(days=150)
    assert (found.trays, found.sow_in, found.table) == (None, None, ())
    assert found.best_chance < 0.9
    assert found.usual_lead_days > 250
    assert plan(days=0).trays is None


def test_more_pots_and_a_higher_chance_take_more_trays():
    assert (plan(pots=1_000).trays or 0) > (plan(pots=500).trays or 0)
    assert (plan(chance=0.97).trays or 0) > (plan(chance=0.6).trays or 0)


def test_a_rest_puts_the_sowing_earlier():
    awake = np.array([day % 365 < 230 for day in range(HORIZON)])
    resting, growing = plan(of=fern(awake=awake), days=700), plan(days=700)
    assert resting.sow_in is not None
    assert growing.sow_in is not None
    assert resting.sow_in < growing.sow_in


@pytest.mark.parametrize("bad", [{"pots": 0}, {"chance": 0.0}, {"chance": 1.0}])
def test_a_question_that_makes_no_sense_is_refused(bad):
    with pytest.raises(BadPlan):
        plan(**bad)
