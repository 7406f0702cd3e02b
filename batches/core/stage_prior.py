"""What may be believed of a fern's stage times before its own trays have spoken?

The default window (early, late) is read as the 10 % and 90 % for one tray of a fern not seen
before: part of its width is how trays of one fern differ, the rest how ferns differ. Where other
ferns of the genus, or else of the route, have been raised here, theirs take the window's place.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from batches.core.belief import DRAWS, Belief, standard_normals
from batches.core.errors import NurseryError
from batches.core.intervals import StageInterval
from batches.core.predictive import Draws
from batches.core.stages import Window
from batches.core.weibull import fit_with_stalled

#: how trays of one fern differ: ln sigma of log T, and how sure that is
SIGMA = 0.30
LOG_SIGMA_SPREAD = 0.35
#: the share that never moves on: logit π ~ N(logit .03, 1)
STALLED = 0.03
STALLED_LOGIT_VARIANCE = 1.0
#: ferns differ by at least this much (standard deviation of log days)
LEAST_BETWEEN = 0.05
#: other ferns needed before they stand for a genus or a route
FEWEST_RELATIVES = 2
# A fern's own evidence is its fit under a belief this vague about log days.
_VAGUE_VARIANCE = 25.0
# Above this variance (a factor e either way) evidence says too little to be lent.
_TOO_VAGUE = 1.0


class NotAWindow(NurseryError):
    """The days of a window do not ascend from above zero."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FernEvidence:
    """What one fern's own trays say of mu (log days), the window left aside.

    ``variance`` is that of ``mean``; ``trays`` how many rows it rests on.
    """

    mean: float
    variance: float
    trays: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StagePrior:
    """A belief about a fern's stage times, and in words on what it rests.

    ``window`` is set while it is the default window's own; ``ferns`` how many others it is
    drawn from otherwise.
    """

    belief: Belief
    rests_on: str
    ferns: int = 0
    window: Window | None = None


def window_prior(window: Window) -> StagePrior:
    """Return the belief whose predictive 90 % is the window's late day, to the digit.

    Its predictive median is the window's middle on a log scale, √(early · late).

    Raises
    ------
    NotAWindow
        Unless 0 < early < late.
    """
    if not 0 < window.early < window.late:
        raise NotAWindow(
            f"A window from {window.early:g} to {window.late:g} days cannot be: early comes"
            " before late, and both after day 0."
        )
    return StagePrior(
        belief=_calibrated(float(window.early), float(window.late)),
        rests_on="default window",
        window=window,
    )


@lru_cache(maxsize=1024)
def _calibrated(early: float, late: float) -> Belief:
    """Split the window's upper half-width into trays of one fern and ferns among each other.

    `SIGMA` is kept while it leaves room for `LEAST_BETWEEN`; a narrower window says that trays of
    one fern differ less too.
    """
    upper = math.log(late / early) / 2
    sigma, between = SIGMA, LEAST_BETWEEN
    if _upper_half(sigma, between) <= upper:
        between = _solve(lambda b: _upper_half(sigma, b) - upper, LEAST_BETWEEN, upper + 1.0)
    else:
        between = min(between, upper / 2)
        sigma = _solve(lambda s: _upper_half(s, between) - upper, 1e-6, SIGMA)
    median = _standard_draws(sigma, between).quantile(0.5)
    return _belief(math.log(early * late) / 2 - math.log(median), between**2, sigma)


def _belief(mu: float, variance: float, sigma: float = SIGMA) -> Belief:
    return Belief(
        mu=mu,
        mu_variance=variance,
        log_sigma=math.log(sigma),
        log_sigma_variance=LOG_SIGMA_SPREAD**2,
        stalled_logit=math.log(STALLED / (1 - STALLED)),
        stalled_logit_variance=STALLED_LOGIT_VARIANCE,
    )


def _standard_draws(sigma: float, between: float) -> Draws:
    """Draws of the belief with mu around 0."""
    normals = standard_normals(DRAWS)
    return Draws(
        mu=between * normals[:, 0],
        sigma=sigma * np.exp(LOG_SIGMA_SPREAD * normals[:, 1]),
        stalled=np.zeros(DRAWS),
    )


def _upper_half(sigma: float, between: float) -> float:
    """Log of the predictive 90 % over the predictive median."""
    draws = _standard_draws(sigma, between)
    return math.log(draws.quantile(0.9) / draws.quantile(0.5))


def _solve(excess: Callable[[float], float], low: float, high: float) -> float:
    """Return where a rising function crosses zero between two points (regula falsi, Illinois)."""
    at_low, at_high = excess(low), excess(high)
    for _ in range(100):
        now = high - at_high * (high - low) / (at_high - at_low)
        value = excess(now)
        if abs(value) < 1e-12:
            break
        if value * at_high < 0:
            low, at_low = high, at_high
        else:
            at_low /= 2
        high, at_high = now, value
    return now


def fern_evidence(rows: Sequence[StageInterval], window: Window) -> FernEvidence | None:
    """Return what the rows alone say of mu.

    None when no tray has moved on yet, and when the looks cannot tell how early they did: where
    every sign was there at the very first look, any earlier day explains the rows as well.
    """
    if not any(row.ending == "seen" for row in rows) or unbounded_below(rows):
        return None
    belief = window_prior(window).belief
    fit = fit_with_stalled(rows, replace(belief, mu_variance=_VAGUE_VARIANCE))
    variance = fit.covariance[0][0]
    if variance > _TOO_VAGUE:
        return None
    return FernEvidence(mean=fit.centre[0], variance=variance, trays=fit.trays)


def unbounded_below(rows: Sequence[StageInterval]) -> bool:
    """Tell whether every sign seen was there at the first look: (0, right] in every row."""
    return all(row.left <= 0 for row in rows if row.ending == "seen")


def prior_from_relatives(
    window: Window, *, genus: Sequence[FernEvidence], route: Sequence[FernEvidence]
) -> StagePrior:
    """Return the belief about a fern: from its genus, else its route, else the default window.

    Parameters
    ----------
    genus, route : sequence of FernEvidence
        Of *other* ferns in the same stage whose default window is the same; `route` holds those
        of every genus raised the same way. Fewer than `FEWEST_RELATIVES` are passed over.
    """
    alone = window_prior(window)
    for ferns, whose in ((genus, "of the genus"), (route, "raised the same way")):
        if len(ferns) >= FEWEST_RELATIVES:
            mean, variance = between_ferns(ferns, alone.belief.mu_variance)
            return StagePrior(
                belief=_belief(mean, variance),
                rests_on=f"{len(ferns)} other ferns {whose}",
                ferns=len(ferns),
            )
    return alone


def between_ferns(ferns: Sequence[FernEvidence], expected: float) -> tuple[float, float]:
    """Return mean and variance of mu for one more fern like these (at least two).

    The variance between ferns, τ², is by moments (DerSimonian and Laird 1986, Control. Clin.
    Trials 7, 177-188), at least `LEAST_BETWEEN` squared, averaged with the variance `expected`
    before they were seen, which counts as one degree of freedom: three ferns that lie close
    together by chance would otherwise speak for a fourth with far too much confidence. The mean
    is weighted by 1 / (variance + τ²), and its own variance is added.
    """
    means = np.array([fern.mean for fern in ferns])
    variances = np.array([fern.variance for fern in ferns])
    weight = 1.0 / variances
    centre = float(weight @ means / weight.sum())
    spread = float(weight @ (means - centre) ** 2) - (len(ferns) - 1)
    room = float(weight.sum() - (weight @ weight) / weight.sum())
    freedom = len(ferns) - 1
    between = (freedom * max(spread / room, LEAST_BETWEEN**2) + expected) / (freedom + 1)
    weight = 1.0 / (variances + between)
    return float(weight @ means / weight.sum()), between + float(1.0 / weight.sum())
