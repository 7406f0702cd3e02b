"""Does a rate say its denominator, and does its interval hold what it promises?

The simulation is small and seeded; `make bench` runs it at full size.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from batches.core.proportions import t_quantile, wilson
from batches.core.stages import Stage
from batches.core.survival import (
    STRONGEST,
    USUAL_CORRELATION,
    USUAL_STRENGTH,
    FernRate,
    NotAPassage,
    RatePrior,
    TrayPassage,
    correlation_within_trays,
    default_rate_prior,
    design_effect,
    estimate_survival,
    rate_prior,
    shrunk_correlation,
)
from tests.simulate.tray_survival import passages

DEFAULT = default_rate_prior(Stage.PRICKED_OUT)


def trays(*pairs: tuple[int, int]) -> list[TrayPassage]:
    return [TrayPassage(plants_in=n, plants_out=k) for n, k in pairs]


def test_the_rate_is_out_of_in_and_says_so():
    found = estimate_survival(trays((40, 30), (32, 31)), prior=DEFAULT)
    assert (found.plants_in, found.plants_out, found.trays) == (72, 61, 2)
    assert found.rate is not None
    assert found.rate == pytest.approx(61 / 72)
    assert found.basis == "61 of 72 plants in 2 trays, leaning on the default"
    assert found.low < found.rate < found.high
    assert found.rate < found.expected_rate < DEFAULT.mean


def test_many_plants_lean_on_nothing():
    found = estimate_survival(trays(*[(84, 60), (84, 70), (84, 66)] * 20), prior=DEFAULT)
    assert found.basis == "3920 of 5040 plants in 60 trays"
    assert found.expected_rate == pytest.approx(found.rate, abs=0.01)


@pytest.mark.parametrize("rows", [[], trays((0, 0)), trays((0, 0), (0, 0))])
def test_without_plants_the_default_stands_and_is_called_that(rows):
    found = estimate_survival(rows, prior=DEFAULT)
    assert (found.rate, found.low, found.high, found.trays) == (None, 0, 1, 0)
    assert found.expected_rate == DEFAULT.mean == 0.90
    assert found.basis == "default, no data"


def test_all_lost_leaves_hope_and_none_lost_leaves_doubt():
    none_left = estimate_survival(trays((40, 0), (40, 0)), prior=DEFAULT)
    assert (none_left.rate, none_left.low) == (0, 0)
    assert 0.1 < none_left.high < 0.6
    all_left = estimate_survival(trays((40, 40), (40, 40)), prior=DEFAULT)
    assert (all_left.rate, all_left.high) == (1, 1)
    assert 0.4 < all_left.low < 0.9
    assert none_left.correlation == all_left.correlation == USUAL_CORRELATION


def test_trays_without_plants_are_left_out():
    assert estimate_survival(trays((40, 30), (0, 0)), prior=DEFAULT) == estimate_survival(
        trays((40, 30)), prior=DEFAULT
    )


def test_the_interval_is_wilsons_on_effective_plants_with_t():
    rows = trays((40, 30), (32, 31), (50, 20))
    found = estimate_survival(rows, prior=DEFAULT)
    quantile = t_quantile(0.975, 3 + 4)
    assert (found.low, found.high) == wilson(
        81 / 122 * found.effective_plants, found.effective_plants, quantile=quantile
    )
    plain = wilson(81, 122)
    assert found.high - found.low > 1.5 * (plain[1] - plain[0])


def test_the_correlation_is_that_of_an_analysis_of_variance_of_plants():
    rows = trays((40, 30), (32, 31), (50, 20), (18, 9))
    # Second implementation: every plant a nought or a one, sums of squares by their definition.
    groups = [[1] * t.plants_out + [0] * (t.plants_in - t.plants_out) for t in rows]
    every = [plant for group in groups for plant in group]
    grand = sum(every) / len(every)
    means = [sum(group) / len(group) for group in groups]
    among = sum(len(g) * (m - grand) ** 2 for g, m in zip(groups, means, strict=True)) / 3
    within = sum((x - m) ** 2 for g, m in zip(groups, means, strict=True) for x in g)
    within /= len(every) - 4
    usual = (len(every) - sum(len(g) ** 2 for g in groups) / len(every)) / 3
    expected = (among - within) / (among + (usual - 1) * within)
    assert correlation_within_trays(rows) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(
    "rows",
    [trays((40, 20)), trays((40, 0), (40, 0)), trays((40, 40), (9, 9)), trays((1, 1), (1, 0)), []],
)
def test_where_a_correlation_has_no_value_there_is_none(rows):
    assert correlation_within_trays(rows) is None


def test_trays_more_alike_than_chance_have_no_negative_correlation():
    assert correlation_within_trays(trays((40, 20), (40, 20), (40, 20))) == 0


def test_trays_nearly_all_of_whose_plants_live_say_little_about_their_correlation():
    rows = trays((40, 40), (40, 40), (40, 38), (40, 40))
    own = correlation_within_trays(rows)
    assert own is not None
    rate = (158 + 2) / (160 + 4)
    weight = 3 * 4 * rate * (1 - rate)
    expected = (weight * own + 4 * USUAL_CORRELATION) / (weight + 4)
    assert shrunk_correlation(rows) == pytest.approx(expected, abs=1e-12)
    assert weight < 0.5


def test_plants_without_mates_count_in_full():
    assert design_effect(trays((1, 1), (1, 0), (1, 1)), 0.3) == 1
    assert design_effect(trays((40, 1), (40, 0)), 0.1) == pytest.approx(1 + 39 * 0.1)


def test_split_plants_are_a_yield_that_may_pass_one():
    found = estimate_survival(trays((10, 24), (12, 30), (9, 20)), prior=DEFAULT)
    assert found.rate == found.expected_rate == pytest.approx(74 / 31)
    assert 1 < found.low < found.rate < found.high
    assert math.log(found.high / found.rate) == pytest.approx(math.log(found.rate / found.low))
    assert found.basis == "74 of 31 plants in 3 trays"


def test_one_yield_alone_has_an_interval():
    found = estimate_survival(trays((10, 24)), prior=DEFAULT)
    assert found.low < 1.2 < 2.4 < 4.8 < found.high


def test_one_plant_too_many_is_a_miscount_and_no_yield():
    found = estimate_survival(trays((84, 85), (84, 80)), prior=DEFAULT)
    assert found.rate == pytest.approx(165 / 168)
    assert found.high <= 1
    assert found.expected_rate < 1


def test_fewer_than_no_plants_are_refused():
    with pytest.raises(NotAPassage, match="fewer than no plants"):
        TrayPassage(plants_in=-1, plants_out=0)


def ferns(*pairs: tuple[float, float]) -> list[FernRate]:
    return [FernRate(rate=rate, effective_plants=plants) for rate, plants in pairs]


def test_the_genus_comes_before_the_route_and_both_before_the_default():
    genus, route = ferns((0.5, 50)), ferns(*[(0.7, 50)] * 3)
    near = rate_prior(genus=genus, route=route, default=DEFAULT)
    assert (near.rests_on, near.ferns) == ("1 other fern of the genus", 1)
    assert near.strength == USUAL_STRENGTH
    assert 0.5 < near.mean < 0.55
    far = rate_prior(genus=ferns((0.5, 0)), route=route, default=DEFAULT)
    assert far.rests_on == "3 other ferns raised the same way"
    assert rate_prior(genus=[], route=[], default=DEFAULT) == DEFAULT


def test_a_genus_in_which_all_live_still_leaves_doubt():
    assert rate_prior(genus=ferns((1.0, 300)), route=[], default=DEFAULT).mean < 1


def test_ferns_that_differ_much_make_a_weak_belief_and_alike_ones_a_strong_one():
    apart = rate_prior(
        genus=ferns((0.2, 90), (0.5, 90), (0.9, 90), (0.6, 90), (0.95, 90)),
        route=[],
        default=DEFAULT,
    )
    alike = rate_prior(genus=ferns(*[(0.8, 90)] * 6), route=[], default=DEFAULT)
    assert apart.strength < 5
    assert alike.strength == STRONGEST


def test_the_strength_found_is_about_the_true_one():
    rng = np.random.default_rng(4)
    true = rng.beta(0.7 * 12, 0.3 * 12, 400)
    counted = rng.binomial(60, true)
    found = rate_prior(genus=ferns(*[(k / 60, 60) for k in counted]), route=[], default=DEFAULT)
    assert found.strength == pytest.approx(12, rel=0.2)
    assert found.mean == pytest.approx(0.7, abs=0.02)


def test_leaning_on_the_genus_is_nearer_the_truth_than_the_bare_rate():
    rng = np.random.default_rng(6)
    prior = RatePrior(mean=0.7, strength=12, rests_on="others", ferns=9)
    bare, leaning = [], []
    for rate in rng.beta(0.7 * 12, 0.3 * 12, 300):
        rows = passages(rng, rate=float(rate), correlation=0.1, trays=2)
        found = estimate_survival(rows, prior=prior)
        assert found.rate is not None
        bare.append((found.rate - rate) ** 2)
        leaning.append((found.expected_rate - rate) ** 2)
    assert np.mean(leaning) < 0.8 * np.mean(bare)


@pytest.mark.parametrize("correlation", [0.02, 0.10, 0.25])
@pytest.mark.parametrize("count", [1, 2, 5, 14, 30])
@pytest.mark.parametrize("rate", [0.7, 0.95])
def test_the_interval_holds_the_true_rate_as_often_as_it_says(rate, count, correlation):
    rng = np.random.default_rng(17)
    found = [
        estimate_survival(
            passages(rng, rate=rate, correlation=correlation, trays=count, plants=(30, 90)),
            prior=DEFAULT,
        )
        for _ in range(400)
    ]
    held = np.mean([one.low <= rate <= one.high for one in found])
    # .90 less one and a half standard errors of 400 runs; the full run is held to .90 itself.
    assert held >= 0.90 - 0.022
    if count == 14 and correlation <= 0.10:
        assert np.mean([one.high - one.low for one in found]) <= 0.20
