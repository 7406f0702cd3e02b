"""Which Weibull curve of stage times, with a share that never moves on, fits one fern's rows?

log T = mu + sigma · log E with E standard exponential, for the trays that move on; a share π of
the trays never does: S(t) = π + (1 − π) · S_W(t). A seen row contributes
(1 − π)(S_W(left) − S_W(right)), one waiting or lost S(left), one given up for no germination π.

Fitted by Newton's method on (mu, ln sigma, logit π) with the exact second derivatives, a step
being damped until it climbs. With a prior the answer is the posterior mode and the covariance
Laplace's; without one, and without π, it is plain maximum likelihood.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from batches.core.belief import Belief, posterior_mean
from batches.core.intervals import Floats, NotEstimable, Pooled, StageInterval, pooled

#: largest step of (mu, ln sigma, logit π) at once
LONGEST_STEP = 1.5
MAX_STEPS = 100
#: half the squared Newton decrement below which a fit stands
SETTLED = 1e-12
_TINY_DAYS = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class WeibullFit:
    """A fitted curve of stage times.

    ``mode`` : (mu, ln sigma, logit π), shape (3,) as a tuple; logit π is −inf without π.
    ``centre`` : the posterior mean of the same three; the mode itself without a belief.
    ``covariance`` : of the same three, 3 × 3 as nested tuples; zeros for π without π.
    ``log_likelihood`` : of the rows at the mode, without the prior.
    """

    mode: tuple[float, float, float]
    centre: tuple[float, float, float]
    covariance: tuple[tuple[float, ...], ...]
    log_likelihood: float
    seen: float
    trays: float

    @property
    def shape(self) -> float:
        """Weibull shape, 1 / sigma."""
        return math.exp(-self.mode[1])

    @property
    def scale(self) -> float:
        """Weibull scale in days: by then 63 % of those that move on have."""
        return math.exp(self.mode[0])

    @property
    def stalled_share(self) -> float:
        """π at the centre."""
        return share_of_logit(self.centre[2])

    def quantile(self, share: float) -> float:
        """Return the day by which `share` of those that move on have, at the mode itself."""
        return math.exp(self.mode[0] + math.exp(self.mode[1]) * math.log(-math.log1p(-share)))


def share_of_logit(logit: float) -> float:
    """Return 1 / (1 + exp(−logit)); exactly 0 or 1 far out."""
    if abs(logit) > 700.0:
        return float(logit > 0)
    return 1.0 / (1.0 + math.exp(-logit))


def fit_weibull(rows: Sequence[StageInterval]) -> WeibullFit:
    """Return the maximum-likelihood Weibull fit of the rows, all of which move on sometime.

    Raises
    ------
    NotEstimable
        When nothing was seen to move on, when one day fits every row (then the likelihood has
        no maximum), or when a row was given up for no germination.
    """
    data = pooled(rows)
    if not data.seen:
        raise NotEstimable("No tray has moved on yet, so there is no duration to fit.")
    if data.never:
        raise NotEstimable("Sowings given up for no germination need the fit with a stalled share.")
    latest_left = max(data.seen_left.max(), data.open_left.max(initial=0.0))
    if latest_left < data.seen_right.min():
        raise NotEstimable("One and the same day fits every tray; more looks are needed.")
    start = np.array([*_first_guess(data), -math.inf])
    return _climb(data, start, belief=None)


def fit_with_stalled(rows: Sequence[StageInterval], belief: Belief) -> WeibullFit:
    """Return the posterior mode and Laplace covariance; without rows those of the prior."""
    data = pooled(rows)
    start = belief.mean
    if data.seen:
        pull = data.seen / (data.seen + 1.0)
        start[0] += pull * (_first_guess(data)[0] - start[0])
    return _climb(data, start, belief=belief)


def _first_guess(data: Pooled) -> tuple[float, float]:
    """Mean and spread of the log midpoints as (mu, ln sigma)."""
    logs = np.log((data.seen_left + data.seen_right) / 2)
    share = data.seen_weight / data.seen
    mean = float(share @ logs)
    spread = math.sqrt(max(float(share @ (logs - mean) ** 2), 0.01))
    # A Weibull's log has standard deviation 1.28 sigma and mean mu − 0.58 sigma.
    sigma = spread / 1.28
    return mean + 0.58 * sigma, math.log(sigma)


def _climb(data: Pooled, start: Floats, *, belief: Belief | None) -> WeibullFit:
    """Climb from a start to the top; the first two coordinates only, without a prior."""
    size = 2 if belief is None else 3
    now = start.copy()
    height, slope, bend, likelihood = _surface(data, now, belief)
    for _ in range(MAX_STEPS):
        step = _uphill_step(slope[:size], bend[:size, :size])
        if slope[:size] @ step < 2 * SETTLED:
            break
        step *= min(1.0, LONGEST_STEP / float(np.abs(step).max()))
        for _ in range(40):
            trial = now.copy()
            trial[:size] += step
            there = _surface(data, trial, belief)
            if there[0] > height:
                break
            step /= 2
        else:
            break
        now = trial
        height, slope, bend, likelihood = there
    covariance = np.zeros((3, 3))
    covariance[:size, :size] = np.linalg.inv(_definite(-bend[:size, :size]))
    centre = now if belief is None else posterior_mean(data, belief, now, covariance)
    return WeibullFit(
        mode=(float(now[0]), float(now[1]), float(now[2])),
        centre=(float(centre[0]), float(centre[1]), float(centre[2])),
        covariance=tuple(tuple(map(float, line)) for line in covariance),
        log_likelihood=likelihood,
        seen=data.seen,
        trays=data.total,
    )


def _uphill_step(slope: Floats, bend: Floats) -> Floats:
    return np.asarray(np.linalg.solve(_definite(-bend), slope))


def _definite(matrix: Floats) -> Floats:
    """Return the matrix, its eigenvalues turned up where it is not positive definite."""
    values, vectors = np.linalg.eigh(matrix)
    floor = 1e-8 * max(float(np.abs(values).max()), 1e-8)
    if values[0] > floor:
        return matrix
    return np.asarray((vectors * np.maximum(np.abs(values), floor)) @ vectors.T)


def _surface(
    data: Pooled, at: Floats, belief: Belief | None
) -> tuple[float, Floats, Floats, float]:
    """Return log posterior, its gradient (3,), its second derivatives (3, 3), log likelihood."""
    logit = float(at[2])
    stalled, moving = share_of_logit(logit), share_of_logit(-logit)
    slope, bend = np.zeros(3), np.zeros((3, 3))
    likelihood = _seen_part(data, at, slope, bend)
    likelihood += _open_part(data, at, stalled, moving, slope, bend)
    if belief is not None:
        likelihood += data.seen * math.log(moving) + data.never * math.log(stalled)
        slope[2] += data.never * moving - data.seen * stalled
        bend[2, 2] -= (data.seen + data.never) * stalled * moving
    height = likelihood
    if belief is not None:
        away, precision = at - belief.mean, belief.precision
        height -= 0.5 * float(precision @ away**2)
        slope -= precision * away
        bend -= np.diag(precision)
    return height, slope, bend, likelihood


def _hazard(days: Floats, at: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return H = −log S_W and z·H with H's own scale: (H, zH, z(1+z)H, (1+z)H)."""
    z = (np.log(np.maximum(days, _TINY_DAYS)) - at[0]) * math.exp(-float(at[1]))
    z = np.clip(z, -600.0, 30.0)
    h = np.exp(z)
    zh = z * h
    return h, zh, (1 + z) * zh, h + zh


def _seen_part(data: Pooled, at: Floats, slope: Floats, bend: Floats) -> float:
    """Add the rows (left, right]: log(S_W(left) − S_W(right)), all relative to S_W(left)."""
    if not len(data.seen_weight):
        return 0.0
    h0, zh0, zzh0, hz0 = _hazard(data.seen_left, at)
    h1, zh1, zzh1, hz1 = _hazard(data.seen_right, at)
    gap = np.maximum(h1 - h0, 1e-300)
    within, beyond = -np.expm1(-gap), np.exp(-gap)
    one = math.exp(-float(at[1]))
    # By mu and by ln sigma: H_mu = −H/sigma, H_ls = −zH, and their derivatives again.
    d_mu = one * (h0 - beyond * h1) / within
    d_ls = (zh0 - beyond * zh1) / within
    mu2 = one * one * ((h0 * h0 - h0) - beyond * (h1 * h1 - h1)) / within
    ls2 = ((zh0 * zh0 - zzh0) - beyond * (zh1 * zh1 - zzh1)) / within
    both = one * ((h0 * zh0 - hz0) - beyond * (h1 * zh1 - hz1)) / within
    w = data.seen_weight
    slope[:2] += w @ d_mu, w @ d_ls
    bend[0, 0] += w @ (mu2 - d_mu * d_mu)
    bend[1, 1] += w @ (ls2 - d_ls * d_ls)
    cross = w @ (both - d_mu * d_ls)
    bend[0, 1] += cross
    bend[1, 0] += cross
    return float(w @ (np.log(within) - h0))


def _open_part(
    data: Pooled, at: Floats, stalled: float, moving: float, slope: Floats, bend: Floats
) -> float:
    """Add the rows waiting or lost: log(π + (1 − π) S_W(left))."""
    if not len(data.open_weight):
        return 0.0
    h, zh, zzh, hz = _hazard(data.open_left, at)
    alive = np.exp(-h)
    there = stalled + moving * alive
    # Without π a long wait can make S_W vanish; its logarithm is −H exactly.
    log_there = np.log(there) if stalled > 0 else -h
    share = moving * alive / there if stalled > 0 else np.ones_like(h)
    one = math.exp(-float(at[1]))
    d_mu, d_ls = share * one * h, share * zh
    mixed = stalled * moving
    d_pi = mixed * (1 - alive) / there if stalled > 0 else np.zeros_like(h)
    pull = mixed * alive / there if stalled > 0 else np.zeros_like(h)
    w = data.open_weight
    first = np.stack([d_mu, d_ls, d_pi])
    second = np.empty((3, 3, len(h)))
    second[0, 0] = share * one * one * (h * h - h)
    second[1, 1] = share * (zh * zh - zzh)
    second[0, 1] = second[1, 0] = share * one * (h * zh - hz)
    second[2, 2] = d_pi * (moving - stalled)
    second[0, 2] = second[2, 0] = -pull * one * h
    second[1, 2] = second[2, 1] = -pull * zh
    slope += first @ w
    bend += (second - first[:, None] * first[None, :]) @ w
    return float(w @ log_there)
