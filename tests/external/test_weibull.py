"""Is the Weibull fit the one that other programs find?

- scipy's weibull_min on interval-censored data and lifelines' WeibullFitter: cosmesis data and
  seeded looks, to three decimals. *cross-implementation*
- Freireich et al. (1963), 6-MP arm: shape 1.35373, scale 33.7652, found by both.
  *cross-implementation*
- Shape 2.149, scale 28.99 for twenty right-censored times: a lecture that scipy's own tests cite.
  *published, from memory*
"""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest

from batches.core.intervals import StageInterval
from batches.core.weibull import fit_weibull
from tests.external.cosmesis import RADIATION, WITH_CHEMOTHERAPY, rows
from tests.external.remission import SIX_MP
from tests.simulate.stage_times import history, some_fern

LECTURE = "3 5 6+ 8 10+ 11+ 15 20+ 22 23 27+ 29 32 35 40 26 28 33+ 21 24+"


def exactly(times: list[tuple[float, bool]]) -> list[StageInterval]:
    """Return exact times as intervals a hundredth of a millionth wide; the others censored."""
    return [
        StageInterval(left=t - 1e-8, right=t, ending="seen")
        if happened
        else StageInterval(left=t, ending="waiting")
        for t, happened in times
    ]


def of_scipy(looked: list[StageInterval]) -> tuple[float, float]:
    from scipy import stats

    seen = [(row.left, row.right) for row in looked if row.ending == "seen"]
    data = stats.CensoredData(
        interval=seen, right=[row.left for row in looked if row.ending != "seen"]
    )
    shape, _, scale = stats.weibull_min.fit(data, floc=0)
    return shape, scale


def of_lifelines(looked: list[StageInterval]) -> tuple[float, float]:
    from lifelines import WeibullFitter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fit = WeibullFitter().fit_interval_censoring(
            np.array([row.left for row in looked]), np.array([row.right for row in looked])
        )
    return fit.rho_, fit.lambda_


def same_curve(fit, shape: float, scale: float) -> bool:
    """Compare median and ninetieth percent in days, to three decimals or that many digits."""
    for share in (0.5, 0.9):
        theirs = scale * (-math.log(1 - share)) ** (1 / shape)
        if abs(fit.quantile(share) - theirs) > max(1e-3, 2e-5 * theirs):
            return False
    return True


@pytest.mark.parametrize(
    ("arm", "shape", "scale", "likelihood"),
    [
        (RADIATION, 1.12161, 57.5131, -64.731471),
        (WITH_CHEMOTHERAPY, 2.03024, 28.0425, -75.715068),
    ],
    ids=["alone", "both"],
)
def test_the_cosmesis_data(arm, shape, scale, likelihood):
    fit = fit_weibull(rows(arm))
    assert fit.shape == pytest.approx(shape, abs=1e-5)
    assert fit.scale == pytest.approx(scale, abs=1e-4)
    assert fit.log_likelihood == pytest.approx(likelihood, abs=1e-6)


@pytest.mark.parametrize("trays", [20, 200])
@pytest.mark.parametrize("other", [of_scipy, of_lifelines])
def test_seeded_looks(trays, other):
    rng = np.random.default_rng(trays)
    looked = history(rng, some_fern(rng), trays)
    assert same_curve(fit_weibull(looked), *other(looked))


def test_right_censored_remissions():
    fit = fit_weibull(exactly(SIX_MP))
    assert fit.shape == pytest.approx(1.35373, abs=1e-4)
    assert fit.scale == pytest.approx(33.7652, abs=1e-3)


def test_right_censored_times_of_a_lecture():
    times = [(float(t.rstrip("+")), not t.endswith("+")) for t in LECTURE.split()]
    fit = fit_weibull(exactly(times))
    assert fit.shape == pytest.approx(2.149, abs=1e-3)
    assert fit.scale == pytest.approx(28.99, abs=1e-2)
