"""Are the intervals those of their definitions, worked out another way?"""

from __future__ import annotations

import math

import pytest

from batches.core.proportions import (
    NotACount,
    beta_quantile,
    clopper_pearson,
    incomplete_beta,
    t_quantile,
    wilson,
)

COUNTS = [(0, 1), (1, 1), (0, 20), (1, 29), (10, 10), (23, 60), (138, 300), (15, 148)]
Z = 1.959963984540054


def tail(hits: int, of: int, share: float, *, upper: bool) -> float:
    """Probability of at least (at most) so many hits, summed term by term."""
    counts = range(hits, of + 1) if upper else range(hits + 1)
    return math.fsum(math.comb(of, k) * share**k * (1 - share) ** (of - k) for k in counts)


@pytest.mark.parametrize(("hits", "of"), COUNTS)
def test_the_exact_bounds_leave_two_and_a_half_percent_beyond(hits, of):
    low, high = clopper_pearson(hits, of)
    if hits:
        assert tail(hits, of, low, upper=True) == pytest.approx(0.025, abs=1e-10)
    else:
        assert low == 0
    if hits < of:
        assert tail(hits, of, high, upper=False) == pytest.approx(0.025, abs=1e-10)
    else:
        assert high == 1


@pytest.mark.parametrize(("hits", "of"), COUNTS)
def test_wilsons_bounds_are_the_shares_one_quantile_away(hits, of):
    # Second way: each bound is a share p with (k/n − p)² = z² p (1 − p) / n.
    for bound in wilson(hits, of):
        away = (hits / of - bound) ** 2
        assert away == pytest.approx(Z * Z * bound * (1 - bound) / of, abs=1e-9)


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
def test_all_and_none_reach_the_edge_and_mirror_each_other(interval):
    low, high = interval(0, 17)
    assert low == 0
    assert interval(17, 17) == (pytest.approx(1 - high), 1)


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
def test_nothing_counted_says_nothing(interval):
    assert interval(0, 0) == (0, 1)


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
@pytest.mark.parametrize(("hits", "of"), [(5, 4), (-1, 4)])
def test_more_than_there_are_is_refused(interval, hits, of):
    with pytest.raises(NotACount, match="cannot be counted"):
        interval(hits, of)


@pytest.mark.parametrize("freedom", [1, 2, 5, 9.5, 34])
def test_the_t_quantile_leaves_its_tail_by_simpsons_rule(freedom):
    at = t_quantile(0.975, freedom)
    scale = math.exp(math.lgamma((freedom + 1) / 2) - math.lgamma(freedom / 2)) / math.sqrt(
        freedom * math.pi
    )
    steps = 20_000
    width = at / steps
    heights = [(1 + (n * width) ** 2 / freedom) ** (-(freedom + 1) / 2) for n in range(steps + 1)]
    area = heights[0] + heights[-1] + 4 * sum(heights[1:-1:2]) + 2 * sum(heights[2:-1:2])
    assert scale * area * width / 3 == pytest.approx(0.475, abs=1e-9)


def test_the_t_quantile_mirrors_and_becomes_normal():
    assert t_quantile(0.5, 7) == 0
    assert t_quantile(0.025, 7) == -t_quantile(0.975, 7)
    assert t_quantile(0.975, 1e7) == pytest.approx(Z, abs=1e-6)


def test_the_incomplete_beta_function_is_a_binomial_tail():
    assert incomplete_beta(4, 9 - 4 + 1, 0.3) == pytest.approx(
        tail(4, 9, 0.3, upper=True), abs=1e-14
    )
    assert (incomplete_beta(2, 3, 0), incomplete_beta(2, 3, 1)) == (0, 1)
    assert incomplete_beta(2.5, 2.5, 0.5) == pytest.approx(0.5, abs=1e-14)


def test_a_beta_quantile_comes_back():
    for share in (0.001, 0.2, 0.975):
        assert incomplete_beta(3.5, 0.7, beta_quantile(share, 3.5, 0.7)) == pytest.approx(share)
