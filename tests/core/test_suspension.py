"""Do the counting chamber, the thinning and the sowing give the worked answers?"""

from __future__ import annotations

import pytest

from batches.core.suspension import CannotReckon, ml_to_take, spores_for, spores_per_ml


@pytest.mark.parametrize(
    ("counts", "dilution", "answer"),
    [
        # Common practice: a large square of a chamber holds 1e-4 mL (worked examples, recomputed).
        ([20, 30, 25, 28], 1, 257_500),
        ([45], 5, 2_250_000),
        ([0, 0], 1, 0),
    ],
)
def test_spores_in_a_millilitre(counts, dilution, answer):
    assert spores_per_ml(counts, dilution=dilution) == pytest.approx(answer)


def test_39_spores_in_9_squares_and_drops_on_a_slide():
    assert spores_per_ml([4, 5, 4, 4, 5, 4, 4, 5, 4]) == pytest.approx(43_333, abs=1)
    assert spores_per_ml([50], ml_counted=0.01) == pytest.approx(5_000)


def test_nothing_counted_is_no_zero():
    with pytest.raises(CannotReckon, match="nothing is known"):
        spores_per_ml([])


def test_thinning_keeps_the_spores():
    taken = ml_to_take(have=257_500, want=5_000, ml=200)
    assert taken == pytest.approx(3.8835, abs=5e-5)
    assert taken * 257_500 == pytest.approx(200 * 5_000)
    with pytest.raises(CannotReckon, match="thicker"):
        ml_to_take(have=5_000, want=6_000, ml=10)


def test_a_tray_takes_the_spores_of_the_worked_example():
    # 33 × 21 cm, 15 a cm², 60 %: 17,325 spores, 3.465 mL at 5,000 a mL (recomputed by hand).
    assert spores_for(cm2=693, per_cm2=15, germination=0.6) == 17_325
    assert pytest.approx(3.465) == 17_325 / 5_000


@pytest.mark.parametrize(
    "wrong",
    [{"germination": 0}, {"germination": 1.2}, {"cm2": 0}, {"per_cm2": -1}],
)
def test_what_makes_no_sum_is_refused(wrong):
    with pytest.raises(CannotReckon):
        spores_for(**({"cm2": 693, "per_cm2": 15, "germination": 0.6} | wrong))
