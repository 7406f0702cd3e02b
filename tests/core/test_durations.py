"""Do expected and late days, their basis and their false alarms keep what they promise?

The simulations are small and seeded; `make bench` runs them at full size.
"""

from __future__ import annotations

import functools

import numpy as np
import pytest

from batches.core.durations import basis_words, estimate_stage
from batches.core.intervals import StageInterval
from batches.core.stage_prior import FernEvidence, prior_from_relatives, window_prior
from batches.core.stages import Window
from tests.core.stage_rows import WINDOW, seen, some_rows, waiting
from tests.simulate.stage_times import Judged, days_gained, history, judged, some_fern


@functools.cache
def small_run(trays: int, stalled: int = 0) -> list[Judged]:
    return judged(2026, ferns=120, trays=trays, stalled=stalled)


def mean_of(run: list[Judged], what: str) -> float:
    return float(np.mean([getattr(one, what) for one in run]))


def test_without_rows_the_answer_is_the_default_window():
    found = estimate_stage([], window=Window(early=10, usual=28, late=90))
    assert found.late_after_days == 90
    assert found.expected_days == pytest.approx(30)
    assert found.stalled_share == pytest.approx(0.03)
    assert (found.trays, found.curve, found.median_low, found.basis) == (
        0,
        (),
        None,
        "default window",
    )


def test_rows_that_prove_nothing_leave_the_default_window():
    found = estimate_stage([waiting(0)] * 3, window=WINDOW)
    assert found.late_after_days == pytest.approx(120, rel=1e-3)
    assert found.expected_days == pytest.approx(60, rel=1e-3)


def test_trays_are_counted_by_how_they_ended():
    found = estimate_stage(some_rows(), window=WINDOW)
    assert (found.trays, found.seen, found.still_waiting, found.lost) == (14, 9, 3, 2)
    assert sum(bracket.share for bracket in found.curve) == pytest.approx(1)
    assert found.median_low is not None
    assert found.median_high is not None
    assert found.median_low < found.expected_days < found.late_after_days


def test_the_order_of_rows_changes_nothing():
    assert estimate_stage(some_rows()[::-1], window=WINDOW) == estimate_stage(
        some_rows(), window=WINDOW
    )


def test_one_tray_moves_the_expected_day_towards_its_own():
    early = estimate_stage([seen(20, 27)], window=WINDOW)
    late = estimate_stage([seen(150, 157)], window=WINDOW)
    assert early.expected_days < 60 < late.expected_days


def test_a_lost_tray_says_what_a_waiting_one_says_about_the_time():
    lost = StageInterval(left=80, ending="lost")
    assert (
        estimate_stage([lost], window=WINDOW).fit
        == estimate_stage([waiting(80)], window=WINDOW).fit
    )


def test_sowings_that_never_germinate_raise_the_stalled_share_and_no_date():
    never = [StageInterval(left=180, ending="no_germination")] * 5
    before = estimate_stage(some_rows()[:9], window=WINDOW)
    after = estimate_stage([*some_rows()[:9], *never], window=WINDOW)
    assert after.stalled_share > before.stalled_share + 0.1
    assert after.late_after_days == pytest.approx(before.late_after_days, rel=0.02)


def test_a_tray_long_past_all_others_hardly_moves_the_late_day():
    rng = np.random.default_rng(5)
    rows = history(rng, some_fern(rng), 30)
    clean = estimate_stage(rows[1:], window=WINDOW)
    stalled = estimate_stage([*rows[1:], waiting(6 * clean.expected_days)], window=WINDOW)
    assert stalled.late_after_days == pytest.approx(clean.late_after_days, rel=0.03)
    assert stalled.draws().moves_within(28, age=6 * clean.expected_days) < 0.01


def test_the_genus_is_leaned_on_while_trays_are_few():
    genus = [FernEvidence(mean=5.0, variance=0.01, trays=20)] * 4
    prior = prior_from_relatives(WINDOW, genus=genus, route=[])
    alone = estimate_stage([seen(49, 56)], window=WINDOW)
    leaning = estimate_stage([seen(49, 56)], window=WINDOW, prior=prior)
    many = [seen(49, 56)] * 30
    assert leaning.expected_days > 1.2 * alone.expected_days
    assert estimate_stage(many, window=WINDOW, prior=prior).expected_days == pytest.approx(
        estimate_stage(many, window=WINDOW).expected_days, rel=0.02
    )
    assert leaning.basis == "1 tray here and 4 other ferns of the genus"


@pytest.mark.parametrize(
    ("trays", "seen_", "words"),
    [
        (0, 0, "default window"),
        (1, 1, "1 tray here and the default window"),
        (12, 9, "12 trays here and the default window"),
        (23, 19, "23 trays of this fern"),
    ],
)
def test_the_basis_says_on_what_an_answer_rests(trays, seen_, words):
    assert basis_words(trays=trays, seen=seen_, prior=window_prior(WINDOW)) == words


@pytest.mark.parametrize("trays", [0, 1, 3, 10, 30])
def test_healthy_trays_are_seldom_called_late(trays):
    run = small_run(trays)
    # 120 ferns: two standard errors of the mean are .02 to .03.
    assert mean_of(run, "false_alarms") <= (0.12 if trays == 10 else 0.10) + 0.02
    often = np.mean([one.false_alarms > 0.25 for one in run])
    assert often <= {10: 0.08, 30: 0.02}.get(trays, 0.25) + 0.02


def test_two_stalled_trays_among_thirty_do_not_spoil_the_dates():
    run = small_run(30, stalled=2)
    assert mean_of(run, "false_alarms") <= 0.10
    assert np.mean([one.false_alarms > 0.25 for one in run]) <= 0.03
    assert abs(mean_of(run, "late_error")) <= 0.05
    assert 0.04 < np.mean([one.estimate.stalled_share for one in run]) < 0.12


@pytest.mark.parametrize("trays", [10, 30])
def test_expected_and_late_days_lean_to_neither_side(trays):
    run = small_run(trays)
    assert abs(mean_of(run, "expected_error")) <= 0.06
    assert abs(mean_of(run, "late_error")) <= 0.09


def test_a_stalled_tray_is_found_much_sooner_than_by_fixed_days():
    here, fixed = days_gained(small_run(30))
    assert here <= 0.7 * fixed


@pytest.mark.parametrize("trays", [1, 5, 9, 30])
def test_a_fern_green_at_every_first_look_stays_near_the_lower_part_of_its_window(trays):
    window = Window(early=2, usual=7, late=21)
    found = estimate_stage([seen(0, 7)] * trays, window=window)
    assert window.early <= found.expected_days <= 7
    # Nothing is known of the days before the look, so no tray is late before it.
    assert 7 <= found.late_after_days <= window.late


def test_a_first_look_months_late_makes_no_tray_less_late():
    window = Window(early=2, usual=7, late=21)
    found = estimate_stage([seen(0, 150)] * 4, window=window)
    assert found.late_after_days <= window.late * 1.01
