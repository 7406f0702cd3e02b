"""Do the nursery's small sums come out as in published tables and worked examples?

- Spread of four repeats of a germination test: 7 CFR 201.55, table of tolerances, as far as it was
  at hand. *published: 7 CFR 201.55*; the three sets of counts are *worked out by hand from it*
- Counting chamber: a large square of 1 mm × 1 mm × 0.1 mm holds 1e-4 mL; counts 20, 30, 25, 28;
  mean 45 at a dilution of 5; 39 in 9 squares. *common practice, no source; recomputed by hand*
- Thinning (C1 V1 = C2 V2), spores for a tray, litres of mix with what is lost in mixing, feed in
  mg of nitrogen a litre. *common practice, no source; recomputed by hand*
- Heat: 60 °C in every part for 30 minutes (Baker, University of California Manual 23, 1957).
  *published; from memory*
- Planning back: 500 pots through 0.85, 0.90 and 0.95; 60 weeks before week 20 of 2026. *worked out
  by hand, no source*
"""

from __future__ import annotations

import math
from datetime import date, timedelta
from fractions import Fraction

import pytest

from batches.core.germination import largest_range, repeats_agree
from batches.core.media import feed_grams_per_litre, mix_needed, nitrogen_mg_per_litre
from batches.core.raising import Rate, TrayNow
from batches.core.stages import Stage
from batches.core.suspension import ml_to_take, spores_for, spores_per_ml
from batches.models import MediumBatch
from batches.services.days import week_words
from batches.services.media import heat_words
from tests.core.test_forecast import pots_by

# published: 7 CFR 201.55
LARGEST_RANGE = [
    ((99,), 5), ((98,), 6), ((97,), 7), ((96,), 8), ((95,), 9), ((94, 93), 10), ((92, 91), 11),
    ((90, 89), 12), ((88, 87), 13), ((86, 85, 84), 14), ((83, 82, 81), 15), ((80, 79, 78), 16),
    ((77,), 17), ((71,), 18),
]  # fmt: skip


@pytest.mark.parametrize(("means", "largest"), LARGEST_RANGE)
def test_the_tolerance_of_repeats_is_the_published_one(means, largest):
    assert {largest_range(mean) for mean in means} == {largest}


def test_where_the_published_table_ends_there_is_no_tolerance():
    known = {mean for means, _ in LARGEST_RANGE for mean in means}
    assert {mean for mean in range(101) if largest_range(mean) is not None} == known


@pytest.mark.parametrize(
    ("counts", "mean", "spread", "allowed", "agree"),
    [((92, 88, 95, 89), 91, 7, 11, True), ((97, 80, 92, 95), 91, 17, 11, False)],
)
def test_four_repeats_are_judged_by_the_table(counts, mean, spread, allowed, agree):
    found = repeats_agree(counts)
    assert (found.mean, found.range, found.allowed, found.agree) == (mean, spread, allowed, agree)


@pytest.mark.parametrize(
    ("counts", "dilution", "answer"),
    [
        ([20, 30, 25, 28], 1, 257_500),
        ([45], 5, 2_250_000),
        ([4, 5, 4, 4, 5, 4, 4, 5, 4], 1, 43_333),
    ],
)
def test_spores_in_a_millilitre_by_the_counting_chamber(counts, dilution, answer):
    assert spores_per_ml(counts, dilution=dilution) == pytest.approx(answer, abs=0.5)


def test_ten_millilitres_hold_ten_times_as_many():
    assert 10 * spores_per_ml([45], dilution=5) == pytest.approx(2.25e7)


def test_thinning():
    taken = ml_to_take(have=257_500, want=5_000, ml=200)
    assert taken == pytest.approx(3.8835, abs=5e-5)
    assert taken == pytest.approx(float(Fraction(5_000 * 200, 257_500)), rel=1e-12)


def test_spores_for_a_tray():
    assert spores_for(cm2=33 * 21, per_cm2=15, germination=0.6) == 17_325
    # as millilitres of a suspension of 5,000 a millilitre
    assert spores_for(cm2=33 * 21, per_cm2=15, germination=0.6) / 5_000 == pytest.approx(3.465)


@pytest.mark.parametrize(
    ("containers", "each", "litres", "of_parts"),
    [(72, 0.0718, 5.170, 6.082), (84, 0.030, 2.52, 2.965), (500, 0.5, 250, 294.12)],
)
def test_litres_of_cells_and_pots(containers, each, litres, of_parts):
    found = mix_needed(containers=containers, litres_each=each, parts={"mix": 1})
    assert found.litres == pytest.approx(litres, abs=5e-4)
    assert found.of_parts == pytest.approx(of_parts, abs=5e-3)


def test_85_litres_take_100_of_parts_and_not_97():
    # 85 / (1 − 0.15) = 100; adding 15 % would give 97.75 and be short
    found = mix_needed(
        containers=85, litres_each=1, parts={"peat": 40, "perlite": 30, "bark": 20, "sand": 10}
    )
    assert found.of_parts == pytest.approx(100)
    assert found.parts == pytest.approx({"peat": 40, "perlite": 30, "bark": 20, "sand": 10})


def test_feed():
    in_the_can = nitrogen_mg_per_litre(grams=9.6, litres=37.854, nitrogen=0.2)
    assert in_the_can == pytest.approx(50.7, abs=0.05)
    assert feed_grams_per_litre(mg_n_per_litre=120, nitrogen=0.2) == pytest.approx(0.6)
    # the stock of an injector of 1 to 100
    assert 100 * feed_grams_per_litre(mg_n_per_litre=120, nitrogen=0.2) == pytest.approx(60)


@pytest.mark.parametrize(
    ("treatment", "celsius", "minutes", "left_open"),
    [
        ("", None, None, ""),
        ("steam", None, None, "No temperature and time"),
        ("steam", 60.0, 30.0, ""),
        ("steam", 71.0, 45.0, ""),
        ("steam", 59.9, 30.0, "59.9 °C for 30 min"),
        ("steam", 71.0, 29.0, "less than 60 °C for 30"),
    ],
)
def test_heat_short_of_sixty_degrees_for_half_an_hour_is_said(
    treatment, celsius, minutes, left_open
):
    made = MediumBatch(treatment=treatment, temperature_c=celsius, minutes=minutes)
    assert left_open in heat_words(made)
    assert bool(left_open) == bool(heat_words(made))


def test_688_plants_pricked_out_give_500_pots():
    through = 0.85 * 0.90 * 0.95
    assert through == pytest.approx(0.72675)
    assert math.ceil(500 / through) == 688
    cells = TrayNow(stage=Stage.PRICKED_OUT, age=1, age_now=1, plants=688)
    rates = {
        Stage.PRICKED_OUT: Rate(mean=0.85 * 0.90, plants=1e7),
        Stage.POTTED_UP: Rate(mean=0.95, plants=1e7),
    }
    total = pots_by([cells], weeks=80, rates=rates).sum(axis=1)
    assert total.mean() == pytest.approx(500, abs=6)


def test_weeks_are_counted_back_over_a_year_of_52():
    # 2025 has 52 weeks: borrowing 53 would give week 13
    assert week_words(date(2026, 5, 11)) == "2026-W20"
    assert week_words(date(2026, 5, 11) - timedelta(weeks=60)) == "2025-W12"
    assert date(2026, 5, 11) - timedelta(weeks=60) == date(2025, 3, 17)
