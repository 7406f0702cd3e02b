"""Do other programs see the same correlation within trays, and intervals as wide?

- Beta-binomial maximum likelihood (scipy's betabinom) on many seeded trays: the same mean and
  correlation as by moments. *cross-implementation*
- Generalised estimating equations with an exchangeable correlation (statsmodels) on the same
  trays, plant by plant: about the same standard error. *cross-implementation*
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest

from batches.core.stages import Stage
from batches.core.survival import (
    correlation_within_trays,
    default_rate_prior,
    estimate_survival,
)
from tests.simulate.tray_survival import passages


@pytest.mark.parametrize("correlation", [0.05, 0.25])
def test_beta_binomial_likelihood_finds_the_same_correlation(correlation):
    from scipy import optimize, stats

    trays = passages(np.random.default_rng(21), rate=0.7, correlation=correlation, trays=400)
    entered = np.array([t.plants_in for t in trays])
    out = np.array([t.plants_out for t in trays])

    def unlikely(at: np.ndarray) -> float:
        mean, rho = 1 / (1 + np.exp(-at))
        strength = 1 / rho - 1
        likely = stats.betabinom.logpmf(out, entered, mean * strength, (1 - mean) * strength)
        return -float(likely.sum())

    best = optimize.minimize(unlikely, x0=[0.0, -2.0], method="Nelder-Mead")
    mean, rho = 1 / (1 + np.exp(-best.x))
    assert correlation_within_trays(trays) == pytest.approx(rho, rel=0.12)
    assert out.sum() / entered.sum() == pytest.approx(mean, abs=0.01)


def test_estimating_equations_find_about_the_same_error():
    import statsmodels.api as sm

    trays = passages(np.random.default_rng(22), rate=0.7, correlation=0.1, trays=60)
    plants = np.concatenate(
        [np.repeat([1.0, 0.0], [t.plants_out, t.plants_in - t.plants_out]) for t in trays]
    )
    tray = np.repeat(np.arange(60), [t.plants_in for t in trays])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = sm.GEE(
            plants,
            np.ones((len(plants), 1)),
            groups=tray,
            cov_struct=sm.cov_struct.Exchangeable(),
            family=sm.families.Gaussian(),
        ).fit()
    ours = estimate_survival(trays, prior=default_rate_prior(Stage.PRICKED_OUT))
    assert ours.rate == pytest.approx(fit.params[0], abs=1e-3)
    # 64 degrees of freedom: the t quantile is 1.998.
    assert (ours.high - ours.low) / (2 * 1.998) == pytest.approx(fit.bse[0], rel=0.12)
