"""Does a sowing plan succeed as often as it says, without sowing far too much?"""

from __future__ import annotations

import numpy as np

from tests.bench.figure import Figure
from tests.simulate.becoming_ready import judged_plan

NURSERIES = 200
POTS, DAYS, CHANCE = 500, 800, 0.9


def figures(nurseries: int = NURSERIES) -> list[Figure]:
    """Plan in so many nurseries and sow each plan many times; some twenty seconds with 200."""
    succeeded: list[float] = []
    more: list[float] = []
    early: list[float] = []
    for seed in range(nurseries):
        plan = judged_plan(seed, pots=POTS, days=DAYS, chance=CHANCE)
        if plan.answer.trays is None:
            continue
        succeeded.append(plan.reached)
        if plan.fewest:
            more.append(plan.answer.trays / plan.fewest)
        if plan.days_early is not None:
            early.append(plan.days_early)
    mean, tenth = float(np.mean(succeeded)), float(np.quantile(succeeded, 0.1))
    ratio, too_early = float(np.median(more)), float(np.mean(early))
    return [
        Figure(
            "true success of a plan at chance 0.9", mean, "share", None, None, f"≥ {CHANCE:g}",
            mean >= CHANCE,
        ),
        Figure("tenth percentile of it", tenth, "share", None, None, "≥ 0.75", tenth >= 0.75),
        Figure(
            "trays of a plan beside the fewest that would do", ratio, "×", 1.0, ratio, "≤ 1.35",
            ratio <= 1.35,
        ),
        Figure(
            "days a plan sows earlier than its trays need", too_early, "d", None, None, "≤ 110",
            too_early <= 110,
        ),
        Figure("plans that could be met", len(succeeded), f"of {nurseries}", None, None, "≥ half",
               len(succeeded) >= nurseries // 2),
    ]  # fmt: skip
