"""How often is the true cause found, and how often is an innocent named?"""

from __future__ import annotations

import math
import time

import numpy as np

from batches.core.causes import LookedAtTray, SharedCauses, shared_causes
from tests.bench.figure import Figure
from tests.simulate.outbreaks import GUILTY, outbreak

NURSERIES = 200
#: with 200, the share named of clean nurseries would be known to no better than 12 in 1,000
CLEAN_NURSERIES = 1_000


def found_first(answer: SharedCauses) -> bool:
    """Tell whether the guilty mix stands out in the first line, alone or not told apart."""
    if not answer.named:
        return False
    first = answer.named[0]
    return GUILTY in {(first.factor, first.value), *first.cannot_be_told_apart}


def figures(nurseries: int = NURSERIES, clean: int = CLEAN_NURSERIES) -> list[Figure]:
    """Run the outbreaks and the clean nurseries of the bar; one second some ten."""
    found = sum(
        found_first(
            shared_causes(
                outbreak(np.random.default_rng(seed), guilty=True),
                rng=np.random.default_rng(seed),
            )
        )
        for seed in range(nurseries)
    )
    rows = [
        Figure(
            "true cause first", found / nurseries, "share", None, None, "≥ 0.80",
            found / nurseries >= 0.80,
        )
    ]  # fmt: skip
    for correlation in (0.0, 0.1, 0.3):
        named = sum(
            bool(
                shared_causes(
                    outbreak(
                        np.random.default_rng(10_000 + seed), guilty=False, correlation=correlation
                    ),
                    rng=np.random.default_rng(seed),
                ).named
            )
            for seed in range(clean)
        )
        share = named / clean
        error = math.sqrt(share * (1 - share) / clean)
        rows.append(
            Figure(
                f"something named in a clean nursery, correlation {correlation:g}",
                share, f"share, standard error {error:.2g}", None, None, "≤ 0.06", share <= 0.06,
            )
        )  # fmt: skip
    trays = outbreak(np.random.default_rng(1), guilty=True)
    took = min(_seconds(trays) for _ in range(3))  # the quickest: other work disturbs it least
    rows.append(Figure("shared causes of 240 trays", took, "s", None, None, "≤ 1", took <= 1.0))
    return rows


def _seconds(trays: list[LookedAtTray]) -> float:
    start = time.perf_counter()
    shared_causes(trays, rng=np.random.default_rng(1))
    return time.perf_counter() - start
