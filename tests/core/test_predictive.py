"""Are dates read off the mixture of all draws, and chances worked out with the stalled share?"""

from __future__ import annotations

import math

import numpy as np
import pytest

from batches.core.predictive import Draws, draw
from batches.core.weibull import fit_with_stalled
from tests.core.stage_rows import BELIEF, left_of, some_rows, waiting


def three() -> Draws:
    return Draws(
        mu=np.array([3.5, 4.0, 4.5]),
        sigma=np.array([0.2, 0.3, 0.5]),
        stalled=np.array([0.01, 0.05, 0.4]),
    )


def triples(draws: Draws) -> list[tuple[float, float, float]]:
    return list(zip(draws.mu, draws.sigma, draws.stalled, strict=True))


@pytest.mark.parametrize("share", [0.01, 0.1, 0.5, 0.9, 0.999])
def test_the_quantile_is_that_of_the_mixture(share):
    day = three().quantile(share)
    moved = 1 - sum(left_of(day, mu, sigma) for mu, sigma, _ in triples(three())) / 3
    assert moved == pytest.approx(share, abs=1e-10)


def test_the_mixture_is_later_than_the_best_guess_alone():
    fit = fit_with_stalled(some_rows()[:2], BELIEF)
    best = math.exp(fit.centre[0] + math.exp(fit.centre[1]) * math.log(math.log(10)))
    assert draw(fit).quantile(0.9) > best


def test_the_chance_to_move_counts_those_that_never_do():
    age, days = 60.0, 28.0
    still = moves = 0.0
    for mu, sigma, stalled in triples(three()):
        now, then = left_of(age, mu, sigma), left_of(age + days, mu, sigma)
        still += stalled + (1 - stalled) * now
        moves += (1 - stalled) * (now - then)
    assert three().moves_within(days, age=age) == pytest.approx(moves / still, abs=1e-12)


def test_the_chance_equals_what_happens_to_many_trays():
    rng = np.random.default_rng(12)
    number = 200_000
    which = rng.integers(0, 3, number)
    draws = three()
    time = np.exp(draws.mu[which] + draws.sigma[which] * np.log(rng.exponential(size=number)))
    time[rng.random(number) < draws.stalled[which]] = np.inf
    waits = time > 70
    moved = (time[waits] <= 98).mean()
    stalled = np.isinf(time[waits]).mean()
    assert draws.moves_within(28, age=70) == pytest.approx(moved, abs=0.01)
    assert draws.stalled_at(70) == pytest.approx(stalled, abs=0.01)


def test_the_longer_a_tray_waits_the_likelier_it_has_stalled():
    draws = draw(fit_with_stalled(some_rows(), BELIEF))
    shares = [draws.stalled_at(age) for age in (0, 50, 100, 200, 2_000)]
    assert shares == sorted(shares)
    assert shares[-1] > 0.99
    assert draws.moves_within(28, age=2_000) < 0.01


def test_at_the_very_start_nothing_has_moved():
    draws = draw(fit_with_stalled([waiting(0)], BELIEF))
    assert draws.moves_within(0, age=0) == 0
    assert draws.moving_left(0).tolist() == [1.0] * 400


def test_the_same_fit_gives_the_same_draws_of_any_even_number():
    fit = fit_with_stalled(some_rows(), BELIEF)
    assert draw(fit, 1_000).mu.tolist() == draw(fit, 1_000).mu.tolist()
    for count in (200, 1_000):
        assert draw(fit, count).mu.mean() == pytest.approx(fit.centre[0], abs=1e-9)
        assert draw(fit, count).mu.var() == pytest.approx(fit.covariance[0][0], rel=1e-9)
