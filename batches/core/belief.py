"""What is believed of a stage's curve before the rows, and where does belief stand after them?

A curve has three numbers: mu (log days), ln sigma and logit π (see `batches.core.weibull`). Belief
before the rows is a normal for each. After the rows its mode and curvature are cheap, but with few
rows the mode leans to early, narrow curves; so its mean is taken by weighing fixed draws around
the mode (importance sampling), and dates are drawn around the mean.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from batches.core.intervals import Floats, Pooled

DRAWS = 400
#: draws are spread so much wider than the curvature says, to reach the tails
_WIDER = 1.3
#: with more different rows than this, mode and mean agree
_ENOUGH_PAIRS = 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """Independent normals: mu (log days), ln sigma, logit π; each as mean and variance."""

    mu: float
    mu_variance: float
    log_sigma: float
    log_sigma_variance: float
    stalled_logit: float
    stalled_logit_variance: float

    @property
    def mean(self) -> Floats:
        """The means in the order (mu, ln sigma, logit π)."""
        return np.array([self.mu, self.log_sigma, self.stalled_logit], dtype=float)

    @property
    def precision(self) -> Floats:
        """One over the variances, in the same order."""
        variances = (self.mu_variance, self.log_sigma_variance, self.stalled_logit_variance)
        return 1.0 / np.array(variances, dtype=float)


@lru_cache(maxsize=8)
def standard_normals(count: int, dimensions: int = 3) -> Floats:
    """Return a fixed table of standard normals, shape (count, dimensions); count is even.

    An additive recurrence on the powers of the root of x^(d+1) = x + 1 through the normal's
    quantile function, mirrored at zero, then whitened: column means are 0 and the covariance is
    the identity. The table is read-only.
    """
    root = 2.0
    for _ in range(60):
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = np.array([root**-k for k in range(1, dimensions + 1)])
    points = (0.5 + np.outer(np.arange(1, count // 2 + 1), steps)) % 1.0
    quantile = NormalDist().inv_cdf
    half = np.array([[quantile(float(u)) for u in line] for line in points])
    table = np.concatenate([half, -half])
    spread = np.linalg.cholesky(table.T @ table / len(table))
    white: Floats = np.linalg.solve(spread, table.T).T
    white.setflags(write=False)
    return white


def posterior_mean(data: Pooled, belief: Belief, mode: Floats, covariance: Floats) -> Floats:
    """Return the mean of (mu, ln sigma, logit π) after the rows, shape (3,).

    ``mode`` and ``covariance`` (3, 3) are Laplace's; without rows, and with very many, the mode
    is returned.
    """
    pairs = len(data.seen_weight) + len(data.open_weight)
    if data.total == 0 or pairs > _ENOUGH_PAIRS:
        return mode
    normals = standard_normals(DRAWS)
    points = mode + _WIDER * normals @ np.linalg.cholesky(covariance).T
    log_weight = log_posterior(data, belief, points) + 0.5 * (normals**2).sum(axis=1)
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight @ points / weight.sum())


def log_posterior(data: Pooled, belief: Belief, points: Floats) -> Floats:
    """Return the log posterior, up to a constant, at points of shape (n, 3); shape (n,)."""
    mu, log_sigma, logit = points.T
    sigma = np.exp(log_sigma)
    stalled = 1.0 / (1.0 + np.exp(-np.clip(logit, -700.0, 700.0)))
    moving = 1.0 / (1.0 + np.exp(np.clip(logit, -700.0, 700.0)))

    def hazard(days: Floats) -> Floats:
        z = (np.log(np.maximum(days, 1e-9))[:, None] - mu) / sigma
        return np.asarray(np.exp(np.clip(z, -600.0, 30.0)))

    before = hazard(data.seen_left)
    gap = np.maximum(hazard(data.seen_right) - before, 1e-300)
    value = data.seen_weight @ (np.log(-np.expm1(-gap)) - before)
    value += data.open_weight @ np.log(stalled + moving * np.exp(-hazard(data.open_left)))
    value += data.seen * np.log(moving) + data.never * np.log(stalled)
    away = points - belief.mean
    return np.asarray(value - 0.5 * (away * away) @ belief.precision)
