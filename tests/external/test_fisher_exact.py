"""Do shared causes agree with Fisher's exact test where every batch is a single tray?

- The lady tasting tea: R. A. Fisher, The Design of Experiments (1935), chapter 2: three of four
  cups right or better by chance, 17 in 70. *published, from memory*
- scipy.stats.fisher_exact on other tables. *cross-implementation*
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import fisher_exact

from batches.core.causes import LookedAtTray, shared_causes

PERMUTATIONS = 20_000


def p_of(affected: int, of: int, others_affected: int, of_others: int) -> float:
    ill = [True] * affected + [False] * (of - affected)
    ill += [True] * others_affected + [False] * (of_others - others_affected)
    rows = [
        LookedAtTray(
            tray=str(n), batch=str(n), affected=sick, values={"medium": "A"} if n < of else {}
        )
        for n, sick in enumerate(ill)
    ]
    answer = shared_causes(rows, rng=np.random.default_rng(11), permutations=PERMUTATIONS)
    return answer.lines[0].p


def within(p: float) -> float:
    return 4 * math.sqrt(p * (1 - p) / PERMUTATIONS) + 1 / PERMUTATIONS


def test_the_lady_tasting_tea():
    assert p_of(3, 4, 1, 4) == pytest.approx(17 / 70, abs=within(17 / 70))


@pytest.mark.parametrize(
    "table", [(4, 4, 0, 4), (5, 9, 6, 40), (7, 20, 9, 60), (2, 12, 6, 30), (11, 15, 4, 17)]
)
def test_single_trays_give_fishers_one_sided_probability(table):
    a, n, b, m = table
    exact = fisher_exact([[a, n - a], [b, m - b]], alternative="greater").pvalue

    assert p_of(*table) == pytest.approx(exact, abs=within(exact))
