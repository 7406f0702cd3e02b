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
    for seed in range(nurseries):
        answer, reached, fewest = judged_plan(seed, pots=POTS, days=DAYS, chance=CHANCE)
        if answer.trays is None:
            continue
        succeeded.append(reached)
        if fewest:
            more.append(answer.trays / fewest)
    mean, tenth = float(np.mean(succeeded)), float(np.quantile(succeeded, 0.1))
    ratio = float(np.median(more))
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
        Figure("plans that could be met", len(succeeded), f"of {nurseries}", None, None, "≥ half",
               len(succeeded) >= nurseries // 2),
    ]  # fmt: skip
