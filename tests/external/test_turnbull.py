"""Is Turnbull's estimate the published one, and the one other programs find?

- Fay and Shaw (2010), J. Stat. Softw. 36(2): shares of both cosmesis arms to four digits, and
  the exact shares of section 6.3. *published*
- The same to eight digits and the log-likelihoods: own plain EM and two other programs, which
  agree to 4e-8. *cross-implementation*
- lifelines' npmle on seeded looks; its intervals are closed, so its left ends are moved up by a
  millionth. *cross-implementation*
- Four rows by hand: (0, 7] (7, 14] (7, 14] (14, ∞). *worked out by hand, no source*
"""

from __future__ import annotations

import math
import warnings
from fractions import Fraction

import numpy as np
import pytest

from batches.core.intervals import StageInterval
from batches.core.turnbull import turnbull
from tests.external.cosmesis import RADIATION, WITH_CHEMOTHERAPY, rows
from tests.simulate.stage_times import history, some_fern

PUBLISHED = {
    RADIATION: {
        (4, 5): 0.0463, (6, 7): 0.0334, (7, 8): 0.0887, (11, 12): 0.0708, (24, 25): 0.0926,
        (33, 34): 0.0818, (38, 40): 0.1209, (46, 48): 0.4656,
    },
    WITH_CHEMOTHERAPY: {
        (4, 5): 0.0433, (5, 8): 0.0433, (11, 12): 0.0692, (16, 17): 0.1454, (18, 19): 0.1411,
        (19, 20): 0.1157, (24, 25): 0.0999, (30, 31): 0.0709, (35, 36): 0.1608,
        (44, 48): 0.0552, (48, 60): 0.0552,
    },
}  # fmt: skip

FINER = {
    RADIATION: (
        [0.04634677, 0.03336337, 0.08866737, 0.07075292, 0.09264584, 0.08178576, 0.12087983,
         0.46555814],
        -58.06002195,
    ),
    WITH_CHEMOTHERAPY: (
        [0.04328263, 0.04328263, 0.06920558, 0.14539772, 0.14109490, 0.11574593, 0.09986531,
         0.07088138, 0.16083111, 0.05520641, 0.05520641],
        -65.63696491,
    ),
}  # fmt: skip

ARMS = pytest.mark.parametrize("arm", [RADIATION, WITH_CHEMOTHERAPY], ids=["alone", "both"])


def seen(left: float, right: float) -> StageInterval:
    return StageInterval(left=left, right=right, ending="seen")


@ARMS
def test_the_published_shares_of_the_cosmesis_data(arm):
    found = {(b.after, b.by): b.share for b in turnbull(rows(arm)).brackets}
    assert found.keys() == PUBLISHED[arm].keys()
    assert found == pytest.approx(PUBLISHED[arm], abs=5e-5)


@ARMS
def test_the_shares_and_likelihood_to_eight_digits(arm):
    shares, likelihood = FINER[arm]
    curve = turnbull(rows(arm))
    assert [b.share for b in curve.brackets] == pytest.approx(shares, abs=1e-8)
    assert curve.log_likelihood == pytest.approx(likelihood, abs=1e-8)


def test_the_exact_shares_of_seven_rows():
    left, right = (2, 5, 1, 1, 9, 8, 10), (3, 6, 7, 7, 12, 10, 13)
    curve = turnbull([seen(a, b) for a, b in zip(left, right, strict=True)])
    exact: dict[tuple[float, float], Fraction] = {
        (2, 3): Fraction(2, 7), (5, 6): Fraction(2, 7),
        (9, 10): Fraction(3, 14), (10, 12): Fraction(3, 14),
    }  # fmt: skip
    assert {(b.after, b.by) for b in curve.brackets} == exact.keys()
    for bracket in curve.brackets:
        assert bracket.share == pytest.approx(float(exact[bracket.after, bracket.by]), abs=1e-9)


def test_four_rows_by_hand():
    curve = turnbull(
        [seen(0, 7), seen(7, 14), seen(7, 14), StageInterval(left=14, ending="waiting")]
    )
    assert [(b.after, b.by) for b in curve.brackets] == [(0, 7), (7, 14), (14, math.inf)]
    assert [b.share for b in curve.brackets] == pytest.approx([0.25, 0.5, 0.25])
    assert curve.median == (7, 14)


@pytest.mark.parametrize("trays", [20, 120])
def test_lifelines_finds_no_likelier_curve(trays):
    from lifelines.fitters.npmle import npmle

    rng = np.random.default_rng(trays)
    looked = history(rng, some_fern(rng), trays)
    curve = turnbull(looked)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        shares, gaps = npmle(
            np.array([row.left for row in looked]) + 1e-6,
            np.array([row.right for row in looked]),
            tol=1e-7,
        )
    shares = shares / shares.sum()
    theirs = sum(
        math.log(
            sum(
                p
                for p, gap in zip(shares, gaps, strict=True)
                if row.left < gap.left + 1e-9 and gap.right <= row.right + 1e-9
            )
        )
        for row in looked
    )
    assert curve.log_likelihood >= theirs - 1e-9
    assert curve.log_likelihood == pytest.approx(theirs, abs=1e-3)
