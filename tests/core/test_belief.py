"""Is the mean of what is believed after the rows the true one, and are the draws fixed?"""

from __future__ import annotations

import numpy as np
import pytest

from batches.core.belief import log_posterior, posterior_mean, standard_normals
from batches.core.intervals import pooled
from batches.core.weibull import fit_with_stalled
from tests.core.stage_rows import BELIEF, naive_posterior, seen, some_rows


def test_the_normals_have_exactly_mean_nought_and_the_identity_as_covariance():
    table = standard_normals(400)
    assert table.mean(axis=0) == pytest.approx(np.zeros(3), abs=1e-12)
    assert table.T @ table / 400 == pytest.approx(np.eye(3), abs=1e-12)


def test_the_normals_are_spread_like_normals():
    # Naive: the share below a point against the normal's own, for each column.
    from statistics import NormalDist

    table = standard_normals(400)
    for point in (-2, -1, -0.5, 0.5, 1, 2):
        assert (table < point).mean(axis=0) == pytest.approx(NormalDist().cdf(point), abs=0.02)


def test_the_normals_are_the_same_every_time_and_cannot_be_written_to():
    assert standard_normals(400) is standard_normals(400)
    with pytest.raises(ValueError, match="read-only"):
        standard_normals(400)[0, 0] = 1.0


def test_the_log_posterior_equals_the_naive_one():
    points = BELIEF.mean + np.random.default_rng(2).normal(0, 0.3, (20, 3))
    found = log_posterior(pooled(some_rows()), BELIEF, points)
    naive = [naive_posterior(some_rows(), point, BELIEF) for point in points]
    assert found == pytest.approx(naive, abs=1e-9)


@pytest.mark.parametrize("count", [1, 3, 14])
def test_the_mean_equals_a_sum_over_a_fine_grid(count):
    rows = some_rows()[:count]
    fit = fit_with_stalled(rows, BELIEF)
    spread = np.sqrt(np.diag(np.array(fit.covariance)))
    axes = [m + s * np.linspace(-6, 6, 41) for m, s in zip(fit.mode, spread, strict=True)]
    points = np.array(np.meshgrid(*axes, indexing="ij")).reshape(3, -1).T
    height = log_posterior(pooled(rows), BELIEF, points)
    weight = np.exp(height - height.max())
    grid = weight @ points / weight.sum()
    assert (np.array(fit.centre) - grid) / spread == pytest.approx(np.zeros(3), abs=0.06)


def test_without_rows_and_with_very_many_the_mode_is_the_mean():
    none = fit_with_stalled([], BELIEF)
    assert none.centre == none.mode
    many = fit_with_stalled([seen(20 + n / 10, 30 + n / 10) for n in range(301)], BELIEF)
    assert many.centre == many.mode


def test_the_mean_leans_to_later_and_wider_curves_than_the_mode():
    rows = some_rows()[:3]
    fit = fit_with_stalled(rows, BELIEF)
    mean = posterior_mean(pooled(rows), BELIEF, np.array(fit.mode), np.array(fit.covariance))
    assert tuple(mean) == fit.centre
    assert mean[1] > fit.mode[1]
