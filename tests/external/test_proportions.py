"""Are Wilson's and Clopper-Pearson's intervals, and the t quantiles, the known ones?

- Newcombe (1998), Stat. Med. 17, 857-872, table I: the first four counts. *published, from memory,
  recomputed*
- statsmodels and scipy for these and all small counts. *cross-implementation*
- t quantiles of the usual printed tables. *published in any table; from memory*
"""

from __future__ import annotations

import pytest

from batches.core.proportions import beta_quantile, clopper_pearson, t_quantile, wilson

TABLE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0000, 0.1611), (0.0000, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    (23, 60, (0.2709, 0.5098), (0.2607, 0.5179)),
    (61, 72, (0.7468, 0.9125), (0.7431, 0.9212)),
    (10, 10, (0.7225, 1.0000), (0.6915, 1.0000)),
    (138, 300, (0.4045, 0.5165), (0.4026, 0.5182)),
]


@pytest.mark.parametrize(("hits", "of", "by_wilson", "exact"), TABLE)
def test_the_table(hits, of, by_wilson, exact):
    assert wilson(hits, of) == pytest.approx(by_wilson, abs=5e-5)
    assert clopper_pearson(hits, of) == pytest.approx(exact, abs=5e-5)


@pytest.mark.parametrize(
    ("hits", "of", "bounds"),
    [
        (81, 263, (0.25528852, 0.36620958)),
        (15, 148, (0.06238640, 0.16048724)),
        (0, 20, (0, 0.16112516)),
        (1, 29, (0.00611321, 0.17175522)),
        (20, 20, (0.83887484, 1)),
        (0, 1, (0, 0.79345069)),
    ],
)
def test_wilsons_bounds_to_eight_digits(hits, of, bounds):
    assert wilson(hits, of) == pytest.approx(bounds, abs=5e-9)


def test_scipy_and_statsmodels_find_the_same_intervals():
    from scipy import stats
    from statsmodels.stats.proportion import proportion_confint

    for of in (1, 2, 7, 40, 999):
        for hits in sorted({0, 1, of // 3, of - 1, of}):
            test = stats.binomtest(hits, of)
            for own, method, name in (
                (wilson, "wilson", "wilson"),
                (clopper_pearson, "exact", "beta"),
            ):
                theirs = test.proportion_ci(method=method)
                assert own(hits, of) == pytest.approx((theirs.low, theirs.high), abs=1e-10)
                other = proportion_confint(hits, of, method=name)
                assert own(hits, of) == pytest.approx(other, abs=1e-10)


@pytest.mark.parametrize(
    ("freedom", "printed"),
    [(1, 12.706), (2, 4.303), (5, 2.571), (9, 2.262), (18, 2.101), (30, 2.042), (120, 1.980)],
)
def test_printed_t_quantiles(freedom, printed):
    assert t_quantile(0.975, freedom) == pytest.approx(printed, abs=5e-4)


def test_scipy_finds_the_same_quantiles():
    from scipy import stats

    for freedom in (1, 3.5, 6, 18, 34, 400):
        for share in (0.6, 0.9, 0.975, 0.9995):
            theirs = stats.t.ppf(share, freedom)
            assert t_quantile(share, freedom) == pytest.approx(theirs, rel=1e-9)
    for a, b in ((0.5, 3), (12, 4.5), (300, 700)):
        assert beta_quantile(0.025, a, b) == pytest.approx(stats.beta.ppf(0.025, a, b), rel=1e-9)
