"""Does the fit stand on the top of the likelihood, and is its covariance that of the top?"""

from __future__ import annotations

import math

import numpy as np
import pytest

from batches.core.intervals import NotEstimable, StageInterval
from batches.core.weibull import fit_weibull, fit_with_stalled, share_of_logit
from tests.core.stage_rows import (
    BELIEF,
    naive_likelihood,
    naive_posterior,
    seen,
    some_rows,
    waiting,
)


def steps_around(count: int = 200) -> np.ndarray:
    return np.random.default_rng(8).normal(0, 0.02, (count, 3))


def test_nothing_near_the_mode_is_more_likely():
    fit = fit_with_stalled(some_rows(), BELIEF)
    top = naive_posterior(some_rows(), fit.mode, BELIEF)
    for step in steps_around():
        assert naive_posterior(some_rows(), np.array(fit.mode) + step, BELIEF) < top


def test_the_slope_at_the_mode_is_nought():
    fit = fit_with_stalled(some_rows(), BELIEF)
    for axis in range(3):
        step = 1e-5 * np.eye(3)[axis]
        rise = naive_posterior(some_rows(), np.array(fit.mode) + step, BELIEF)
        fall = naive_posterior(some_rows(), np.array(fit.mode) - step, BELIEF)
        assert (rise - fall) / 2e-5 == pytest.approx(0, abs=1e-4)


def test_the_covariance_is_the_inverse_of_the_curvature():
    fit = fit_with_stalled(some_rows(), BELIEF)
    h = 1e-3
    bend = np.empty((3, 3))
    for i in range(3):
        for j in range(3):
            a, b = h * np.eye(3)[i], h * np.eye(3)[j]
            at = np.array(fit.mode)
            corners = [
                naive_posterior(some_rows(), at + s * a + t * b, BELIEF) * s * t
                for s in (1, -1)
                for t in (1, -1)
            ]
            bend[i, j] = sum(corners) / (4 * h * h)
    assert np.linalg.inv(-bend) == pytest.approx(np.array(fit.covariance), rel=1e-3, abs=1e-6)


def test_plain_maximum_likelihood_stands_on_top_too():
    rows = [row for row in some_rows() if row.ending != "no_germination"]
    fit = fit_weibull(rows)
    assert fit.stalled_share == 0
    assert fit.log_likelihood == pytest.approx(naive_likelihood(rows, fit.mode), abs=1e-9)
    for step in steps_around():
        at = (fit.mode[0] + step[0], fit.mode[1] + step[1], -math.inf)
        assert naive_likelihood(rows, at) < fit.log_likelihood


def test_without_rows_belief_stays_what_it_was():
    fit = fit_with_stalled([], BELIEF)
    assert fit.mode == pytest.approx(tuple(BELIEF.mean), abs=1e-12)
    assert np.array(fit.covariance) == pytest.approx(np.diag(1 / BELIEF.precision), abs=1e-12)
    assert fit.trays == 0


def test_weights_count_as_rows():
    rows = some_rows()
    doubled = [*rows, rows[0]]
    heavier = [StageInterval(left=28, right=35, ending="seen", weight=2), *rows[1:]]
    assert fit_with_stalled(doubled, BELIEF).mode == pytest.approx(
        fit_with_stalled(heavier, BELIEF).mode, abs=1e-9
    )


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([], "No tray has moved on"),
        ([waiting(50)] * 4, "No tray has moved on"),
        ([seen(7, 14)], "One and the same day"),
        ([seen(7, 14), seen(10, 21), waiting(3)], "One and the same day"),
        ([seen(7, 14), seen(30, 40), StageInterval(left=9, ending="no_germination")], "stalled"),
    ],
)
def test_plain_likelihood_says_why_it_cannot_answer(rows, words):
    with pytest.raises(NotEstimable, match=words):
        fit_weibull(rows)


@pytest.mark.parametrize(
    "rows",
    [
        [waiting(400)] * 5,
        [waiting(1e6)] * 3,
        [seen(0, 0)] * 40,
        [seen(5000, 5007)] * 2,
        [seen(50, 50)] * 300,
        [seen(0, 4000)] * 3,
        [StageInterval(left=0, ending="no_germination")] * 50,
        [seen(10, 17), waiting(1e5)],
    ],
)
def test_strange_histories_still_end_on_a_top(rows):
    fit = fit_with_stalled(rows, BELIEF)
    assert all(map(math.isfinite, fit.mode))
    assert np.linalg.eigvalsh(np.array(fit.covariance)).min() > 0
    top = naive_posterior(rows, fit.mode, BELIEF)
    for step in steps_around(30):
        assert naive_posterior(rows, np.array(fit.mode) + step, BELIEF) <= top + 1e-7


def test_the_quantile_is_where_the_curve_says():
    fit = fit_with_stalled(some_rows(), BELIEF)
    moved = 1 - math.exp(-((fit.quantile(0.3) / fit.scale) ** fit.shape))
    assert moved == pytest.approx(0.3, abs=1e-12)


def test_shares_far_out_are_nought_and_one():
    assert (share_of_logit(-math.inf), share_of_logit(math.inf)) == (0.0, 1.0)
    assert share_of_logit(0) == 0.5
