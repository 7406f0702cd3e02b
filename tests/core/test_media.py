"""Do litres of mix and grams of feed come out as in the worked examples?"""

from __future__ import annotations

import pytest

from batches.core.media import BadMix, feed_grams_per_litre, mix_needed, nitrogen_mg_per_litre


def test_parts_for_85_litres_are_100_and_not_97():
    # Worked example, recomputed: 85 / (1 − .15) = 100, not 85 × 1.15 = 97.75.
    found = mix_needed(
        containers=85, litres_each=1, parts={"peat": 40, "perlite": 30, "bark": 20, "sand": 10}
    )
    assert found.of_parts == pytest.approx(100)
    assert found.parts == pytest.approx({"peat": 40, "perlite": 30, "bark": 20, "sand": 10})


@pytest.mark.parametrize(
    ("containers", "each", "litres", "of_parts"),
    [(72, 0.0718, 5.170, 6.082), (84, 0.030, 2.52, 2.965), (500, 0.5, 250, 294.12)],
)
def test_litres_of_cells_and_pots(containers, each, litres, of_parts):
    found = mix_needed(containers=containers, litres_each=each, parts={"mix": 1})
    assert found.litres == pytest.approx(litres, abs=5e-4)
    assert found.of_parts == pytest.approx(of_parts, abs=5e-3)


def test_the_parts_add_up_without_loss():
    found = mix_needed(containers=10, litres_each=3, parts={"peat": 2, "perlite": 1}, loss=0)
    assert found.parts == pytest.approx({"peat": 20, "perlite": 10})


def test_feed():
    # Worked examples, recomputed: 9.6 g in 37.854 L of a 20 % product; 120 mg/L from 20 %.
    assert nitrogen_mg_per_litre(grams=9.6, litres=37.854, nitrogen=0.2) == pytest.approx(
        50.7, abs=0.05
    )
    assert feed_grams_per_litre(mg_n_per_litre=120, nitrogen=0.2) == pytest.approx(0.6)
    assert 100 * feed_grams_per_litre(mg_n_per_litre=120, nitrogen=0.2) == pytest.approx(60)


@pytest.mark.parametrize(
    "wrong",
    [{"containers": 0}, {"litres_each": 0}, {"parts": {}}, {"parts": {"peat": 0}}, {"loss": 1}],
)
def test_a_mix_that_cannot_be_is_refused(wrong):
    good = {"containers": 1, "litres_each": 1, "parts": {"peat": 1}}
    with pytest.raises(BadMix):
        mix_needed(**(good | wrong))


def test_feed_that_cannot_be_is_refused():
    for wrong in ({"mg_n_per_litre": 0, "nitrogen": 0.2}, {"mg_n_per_litre": 9, "nitrogen": 0}):
        with pytest.raises(BadMix):
            feed_grams_per_litre(**wrong)
    with pytest.raises(BadMix):
        nitrogen_mg_per_litre(grams=1, litres=0, nitrogen=0.2)
