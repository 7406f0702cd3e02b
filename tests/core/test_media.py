"""Do parts of a mix add up, and is a mix or a feed that cannot be refused?

The worked examples stand in `tests/external/test_worked_examples.py`.
"""

from __future__ import annotations

import pytest

from batches.core.media import BadMix, feed_grams_per_litre, mix_needed, nitrogen_mg_per_litre


def test_the_parts_add_up_without_loss():
    found = mix_needed(containers=10, litres_each=3, parts={"peat": 2, "perlite": 1}, loss=0)
    assert found.parts == pytest.approx({"peat": 20, "perlite": 10})


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
