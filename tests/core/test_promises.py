"""Do low, likely and high, and a sowing plan's chance, come true in invented nurseries?

Small and seeded; `make bench` runs them at full size.
"""

from __future__ import annotations

import numpy as np

from tests.simulate.becoming_ready import judged_bands, judged_plan


def test_about_eight_in_ten_bands_hold_and_misses_fall_to_both_sides():
    held, below, above = [], 0, 0
    for seed in range(60):
        found, came = judged_bands(seed, draws=200)
        bands = found.cumulative()
        for week in (26, 52):
            band, pots = bands[week - 1], came[week - 1]
            held.append(band.low <= pots <= band.high)
            below += pots < band.low
            above += pots > band.high
    assert 0.70 <= np.mean(held) <= 0.90
    assert min(below, above) >= 4


def test_a_plan_succeeds_about_as_often_as_it_says_and_sows_little_more_than_needed():
    succeeded, more, early = [], [], []
    for seed in range(20):
        plan = judged_plan(seed, pots=500, days=800, tries=200)
        if plan.answer.trays is not None:
            succeeded.append(plan.reached)
            more.append(plan.answer.trays / (plan.fewest or plan.answer.trays))
            if plan.days_early is not None:
                early.append(plan.days_early)
    assert len(succeeded) >= 12
    assert np.mean(succeeded) >= 0.85
    assert np.median(more) <= 1.35
    assert np.mean(early) <= 110
