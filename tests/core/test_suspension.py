"""Are sums of spores refused where nothing is known, and kept where it is?

The worked examples stand in `tests/external/test_worked_examples.py`.
"""

from __future__ import annotations

import pytest

from batches.core.suspension import CannotReckon, ml_to_take, spores_for, spores_per_ml


def test_a_drop_on_a_slide_counts_as_well_and_no_spore_is_a_count():
    assert spores_per_ml([50], ml_counted=0.01) == pytest.approx(5_000)
    assert spores_per_ml([0, 0]) == 0


def test_nothing_counted_is_no_zero():
    with pytest.raises(CannotReckon, match="nothing is known"):
        spores_per_ml([])


def test_thinning_keeps_the_spores_and_nothing_is_made_thicker():
    taken = ml_to_take(have=40_000, want=5_000, ml=80)
    assert taken * 40_000 == pytest.approx(80 * 5_000)
    with pytest.raises(CannotReckon, match="thicker"):
        ml_to_take(have=5_000, want=6_000, ml=10)


@pytest.mark.parametrize(
    "wrong",
    [{"germination": 0}, {"germination": 1.2}, {"cm2": 0}, {"per_cm2": -1}],
)
def test_what_makes_no_sum_is_refused(wrong):
    with pytest.raises(CannotReckon):
        spores_for(**({"cm2": 693, "per_cm2": 15, "germination": 0.6} | wrong))
