"""By which day will one more tray have moved on, when the curve itself is known only roughly?

The answers are mixtures over draws of the parameters, not the curve at its best guess: with few
rows the best guess alone is too sure of itself. The draws are the same every time (a
low-discrepancy sequence, mirrored and scaled so that mean and covariance are exactly those asked
for), so the same rows give the same dates.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from batches.core.belief import DRAWS, standard_normals
from batches.core.intervals import Floats
from batches.core.weibull import WeibullFit

#: relative accuracy of a day
_CLOSE = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """Draws of the curve's parameters: mu (log days), sigma, π; each of shape (draws,)."""

    mu: Floats
    sigma: Floats
    stalled: Floats

    def moving_left(self, days: float) -> Floats:
        """Return, per draw, the share of those that move on which has not by `days`."""
        if days <= 0:
            return np.ones_like(self.mu)
        z = np.clip((math.log(days) - self.mu) / self.sigma, -600.0, 30.0)
        return np.asarray(np.exp(-np.exp(z)))

    def quantile(self, share: float) -> float:
        """Return the day by which `share` of those that move on will have (0 < share < 1)."""
        target = 1.0 - share
        each = self.mu + self.sigma * math.log(-math.log(target))
        low, high = float(each.min()), float(each.max())
        now = float(each.mean())
        for _ in range(100):
            z = np.clip((now - self.mu) / self.sigma, -600.0, 30.0)
            hazard = np.exp(z)
            left = np.exp(-hazard)
            excess = float(left.mean()) - target
            low, high = (now, high) if excess > 0 else (low, now)
            fall = float((left * hazard / self.sigma).mean())
            after = now + excess / fall if fall > 0 else high
            after = after if low <= after <= high else (low + high) / 2
            if abs(after - now) < _CLOSE:
                break
            now = after
        return math.exp(after)

    def moves_within(self, days: float, *, age: float) -> float:
        """Return the chance that a tray still waiting at `age` moves on within `days`.

        It may be one of those that never do.
        """
        now, then = self.moving_left(age), self.moving_left(age + days)
        moving = 1.0 - self.stalled
        waiting = float((self.stalled + moving * now).mean())
        return float((moving * (now - then)).mean()) / waiting if waiting > 0 else 0.0

    def stalled_at(self, age: float) -> float:
        """Return the chance that a tray still waiting at `age` is one that never moves on."""
        waiting = self.stalled + (1.0 - self.stalled) * self.moving_left(age)
        return float(self.stalled.mean()) / float(waiting.mean())


def draw(fit: WeibullFit, count: int = DRAWS) -> Draws:
    """Return `count` draws (even) from the normal around the centre of a fit, always the same."""
    normals = standard_normals(count)
    spread = np.linalg.cholesky(np.array(fit.covariance))
    points = np.array(fit.centre) + normals @ spread.T
    return Draws(
        mu=points[:, 0],
        sigma=np.exp(points[:, 1]),
        stalled=1.0 / (1.0 + np.exp(-np.clip(points[:, 2], -700.0, 700.0))),
    )
