"""What is believed of a fern without trays of its own: window, genus, route?"""

from __future__ import annotations

import math

import pytest

from batches.core.predictive import draw
from batches.core.stage_prior import (
    LEAST_BETWEEN,
    SIGMA,
    FernEvidence,
    NotAWindow,
    between_ferns,
    fern_evidence,
    prior_from_relatives,
    window_prior,
)
from batches.core.stages import DEFAULT_WINDOWS, Window
from batches.core.weibull import fit_with_stalled
from tests.core.stage_rows import WINDOW, seen, waiting

EVERY_WINDOW = sorted(
    {(w.early, w.late) for kinds in DEFAULT_WINDOWS.values() for w in kinds.values()}
)


@pytest.mark.parametrize(("early", "late"), [*EVERY_WINDOW, (30, 45), (30, 31), (0.5, 900)])
def test_a_window_gives_back_its_late_day_and_its_middle(early, late):
    draws = draw(
        fit_with_stalled([], window_prior(Window(early=early, usual=early, late=late)).belief)
    )
    assert draws.quantile(0.9) == pytest.approx(late, rel=1e-9)
    assert draws.quantile(0.5) == pytest.approx(math.sqrt(early * late), rel=1e-9)


@pytest.mark.parametrize(("early", "late"), EVERY_WINDOW)
def test_about_one_tray_in_ten_comes_before_the_early_day(early, late):
    draws = draw(
        fit_with_stalled([], window_prior(Window(early=early, usual=early, late=late)).belief)
    )
    assert 0.10 <= 1 - draws.moving_left(early).mean() <= 0.15


def test_a_narrow_window_says_that_trays_of_one_fern_differ_less_too():
    wide = window_prior(Window(early=30, usual=60, late=120)).belief
    narrow = window_prior(Window(early=30, usual=35, late=40)).belief
    assert wide.log_sigma == math.log(SIGMA)
    assert narrow.log_sigma < math.log(0.15)
    assert narrow.mu_variance <= LEAST_BETWEEN**2


@pytest.mark.parametrize(("early", "late"), [(0, 10), (10, 10), (20, 10), (-5, 10)])
def test_a_window_that_does_not_ascend_is_refused(early, late):
    with pytest.raises(NotAWindow, match="cannot be"):
        window_prior(Window(early=early, usual=early, late=late))


def evidence(*pairs: tuple[float, float]) -> list[FernEvidence]:
    return [FernEvidence(mean=mean, variance=variance, trays=9) for mean, variance in pairs]


def test_ferns_known_equally_well_are_averaged_and_their_spread_is_their_own():
    # Naive: mean 4, variance of 3.6, 4.0, 4.4 is .16; less .01 of their own uncertainty.
    mean, variance = between_ferns(evidence((3.6, 0.01), (4.0, 0.01), (4.4, 0.01)), 0.09)
    between = (2 * (0.16 - 0.01) + 0.09) / 3
    assert mean == pytest.approx(4.0)
    assert variance == pytest.approx(between + (0.01 + between) / 3)


def test_the_better_known_fern_weighs_more():
    mean, _ = between_ferns(evidence((3.6, 0.001), (4.4, 0.5)), 0.09)
    assert 3.6 < mean < 3.9


def test_ferns_that_agree_by_chance_do_not_speak_for_another_with_certainty():
    _, few = between_ferns(evidence(*[(4.0, 0.01)] * 3), 0.16)
    _, many = between_ferns(evidence(*[(4.0, 0.01)] * 40), 0.16)
    assert few > 0.16 / 3
    assert LEAST_BETWEEN**2 < many < 0.01


def test_the_genus_comes_before_the_route_and_both_before_the_window():
    genus, route = evidence((3.6, 0.01), (3.7, 0.01)), evidence(*[(5.0, 0.01)] * 4)
    both = prior_from_relatives(WINDOW, genus=genus, route=route)
    assert (both.rests_on, both.ferns) == ("2 other ferns of the genus", 2)
    assert both.belief.mu == pytest.approx(3.65)
    far = prior_from_relatives(WINDOW, genus=genus[:1], route=route)
    assert far.rests_on == "4 other ferns raised the same way"
    none = prior_from_relatives(WINDOW, genus=genus[:1], route=[])
    assert none == window_prior(WINDOW)
    assert (none.rests_on, none.ferns, none.window) == ("default window", 0, WINDOW)


def test_a_fern_speaks_for_others_by_its_own_trays_alone():
    rows = [seen(200, 207)] * 2
    found = fern_evidence(rows, WINDOW)
    assert found is not None
    # The window (30 to 120 days) would have drawn it towards 60.
    assert 195 < math.exp(found.mean) < 225
    assert found.trays == 2
    assert found.variance < 0.09


def test_a_fern_none_of_whose_trays_moved_on_says_nothing():
    assert fern_evidence([waiting(40)] * 5, WINDOW) is None
    assert fern_evidence([], WINDOW) is None


def test_a_fern_seen_at_its_first_look_only_lends_nothing():
    # Green when first looked at, in every tray: 2 days explain that as well as 6 do.
    assert fern_evidence([seen(0, 7)] * 9, WINDOW) is None
    assert fern_evidence([seen(0, 7)] * 9 + [waiting(20)], WINDOW) is None
    # One look without the sign bounds it from below.
    found = fern_evidence([seen(0, 7)] * 8 + [seen(7, 14)], WINDOW)
    assert found is not None
    assert 4 < math.exp(found.mean) < 8
