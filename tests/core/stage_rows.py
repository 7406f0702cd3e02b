"""Rows and naive likelihoods that several tests of stage times share."""

from __future__ import annotations

import math
from collections.abc import Sequence

from batches.core.belief import Belief
from batches.core.intervals import StageInterval
from batches.core.stages import Window

WINDOW = Window(early=30, usual=60, late=120)

BELIEF = Belief(
    mu=4.0,
    mu_variance=0.15,
    log_sigma=math.log(0.3),
    log_sigma_variance=0.35**2,
    stalled_logit=math.log(0.03 / 0.97),
    stalled_logit_variance=1.0,
)


def seen(left: float, right: float) -> StageInterval:
    return StageInterval(left=left, right=right, ending="seen")


def waiting(left: float) -> StageInterval:
    return StageInterval(left=left, ending="waiting")


def some_rows() -> list[StageInterval]:
    """Nine seen, three waiting, one lost, one that never germinated."""
    ends = ((28, 35), (35, 42), (35, 49), (42, 49), (42, 49), (49, 56), (56, 63), (0, 60), (63, 77))
    rows = [seen(*pair) for pair in ends]
    rows += [waiting(21), waiting(56), waiting(200)]
    rows.append(StageInterval(left=30, ending="lost"))
    rows.append(StageInterval(left=180, ending="no_germination"))
    return rows


def left_of(days: float, mu: float, sigma: float) -> float:
    """Share of those that move on which has not by `days`: Weibull, from its definition."""
    return math.exp(-((days / math.exp(mu)) ** (1 / sigma))) if days > 0 else 1.0


def naive_likelihood(rows: Sequence[StageInterval], at: Sequence[float]) -> float:
    """Second implementation: one row after the other, from the definitions."""
    mu, sigma = at[0], math.exp(at[1])
    stalled = 1 / (1 + math.exp(-at[2])) if at[2] > -700 else 0.0
    total = 0.0
    for row in rows:
        if row.ending == "seen":
            chance = (1 - stalled) * (left_of(row.left, mu, sigma) - left_of(row.right, mu, sigma))
        elif row.ending == "no_germination":
            chance = stalled
        else:
            chance = stalled + (1 - stalled) * left_of(row.left, mu, sigma)
        total += row.weight * math.log(chance)
    return total


def naive_posterior(rows: Sequence[StageInterval], at: Sequence[float], belief: Belief) -> float:
    """Log posterior up to a constant."""
    away = (
        (at[0] - belief.mu) ** 2 / belief.mu_variance
        + (at[1] - belief.log_sigma) ** 2 / belief.log_sigma_variance
        + (at[2] - belief.stalled_logit) ** 2 / belief.stalled_logit_variance
    )
    return naive_likelihood(rows, at) - away / 2
