"""How sure can one be of a share that was counted?

Wilson's and Clopper-Pearson's intervals, and the quantiles that they need: of Student's t and of
the beta distribution, through the regularised incomplete beta function (continued fraction,
modified Lentz; Press et al., Numerical Recipes, 3rd ed., section 6.4).

References: Wilson (1927), J. Am. Stat. Assoc. 22, 209-212; Clopper and Pearson (1934), Biometrika
26, 404-413; Newcombe (1998), Stat. Med. 17, 857-872.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache
from statistics import NormalDist

from batches.core.errors import NurseryError

CONFIDENCE = 0.95
_SMALLEST = 1e-300
_STEPS = 500


class NotACount(NurseryError):
    """More were counted than there are, or less than none."""


def wilson(hits: float, of: float, *, quantile: float | None = None) -> tuple[float, float]:
    """Return Wilson's interval for a share; (0, 1) when nothing was counted.

    Parameters
    ----------
    hits, of : float
        0 ≤ hits ≤ of; an effective number may be broken.
    quantile : float, optional
        In place of the normal 97.5 % quantile 1.959964.
    """
    _refuse(hits, of)
    if of == 0:
        return 0.0, 1.0
    z = NormalDist().inv_cdf((1 + CONFIDENCE) / 2) if quantile is None else quantile
    share, zz = hits / of, z * z
    centre = (share + zz / (2 * of)) / (1 + zz / of)
    reach = z * math.sqrt(share * (1 - share) / of + zz / (4 * of * of)) / (1 + zz / of)
    low = 0.0 if hits == 0 else max(0.0, centre - reach)
    high = 1.0 if hits == of else min(1.0, centre + reach)
    return low, high


def clopper_pearson(hits: int, of: int) -> tuple[float, float]:
    """Return the exact interval for a share; (0, 1) when nothing was counted."""
    _refuse(hits, of)
    tail = (1 - CONFIDENCE) / 2
    low = 0.0 if hits == 0 else beta_quantile(tail, hits, of - hits + 1)
    high = 1.0 if hits == of else beta_quantile(1 - tail, hits + 1, of - hits)
    return low, high


def _refuse(hits: float, of: float) -> None:
    if not 0 <= hits <= of:
        raise NotACount(f"{hits:g} out of {of:g} cannot be counted.")


@lru_cache(maxsize=512)
def t_quantile(share: float, freedom: float) -> float:
    """Return Student's t quantile for 0 < share < 1 and freedom > 0."""
    if share < 0.5:
        return -t_quantile(1 - share, freedom)
    if share == 0.5:
        return 0.0
    tail = 2 * (1 - share)
    # P(|T| > t) is the incomplete beta at freedom / (freedom + t²).
    at = beta_quantile(tail, freedom / 2, 0.5)
    return math.sqrt(freedom * (1 - at) / at)


def beta_quantile(share: float, a: float, b: float) -> float:
    """Return x where the beta(a, b) distribution function is `share`, by bisection."""
    return _crossing(lambda x: incomplete_beta(a, b, x) - share)


def _crossing(rising: Callable[[float], float]) -> float:
    """Return where a function that rises on (0, 1) crosses zero, to the last bit or so."""
    low, high = 0.0, 1.0
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if rising(middle) < 0 else (low, middle)
    return (low + high) / 2


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b) for 0 ≤ x ≤ 1 and a, b > 0."""
    if x <= 0 or x >= 1:
        return float(x >= 1)
    if x > (a + 1) / (a + b + 2):
        return 1.0 - incomplete_beta(b, a, 1 - x)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    log_front += a * math.log(x) + b * math.log1p(-x)
    return math.exp(log_front) * _beta_fraction(a, b, x) / a


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Return the continued fraction of the incomplete beta function."""
    c = 1.0
    d = 1.0 / _off_zero(1.0 - (a + b) * x / (a + 1))
    value = d
    for m in range(1, _STEPS):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for term in (even, odd):
            d = 1.0 / _off_zero(1.0 + term * d)
            c = _off_zero(1.0 + term / c)
            value *= d * c
        if abs(d * c - 1.0) < 1e-15:
            break
    return value


def _off_zero(value: float) -> float:
    return value if abs(value) > _SMALLEST else _SMALLEST
