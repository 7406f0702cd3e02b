"""Does this week's work name what is to be done, what it takes and what is short?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.models import PlantMovement, Tray
from batches.services.this_week import weeks_work
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    BenchFactory,
    OrderFactory,
    TaxonFactory,
    TrayFactory,
)

pytestmark = pytest.mark.django_db


def standing_in(stage, *, expected=TODAY, **more):
    one = TrayFactory(start_stage=more.pop("start_stage", stage), **more)
    Tray.objects.filter(pk=one.pk).update(stage=stage, expected_on=expected)
    return one


def codes(items):
    return [item.tray.code for item in items]


def test_a_mat_whose_first_picking_is_expected_is_named_with_what_its_fern_gave_before():
    batch = BatchFactory()
    gave = TrayFactory(batch=batch, ended_on=TODAY, end="cleared")
    for plants in (100, 40):
        cells = TrayFactory(batch=batch, cells_of_84=True)
        PlantMovement.objects.create(
            tray=gave, on=TODAY, kind="out", quantity=50, arrived=plants, to_tray=cells,
            recorded_at=NOW,
        )  # fmt: skip
    mat = standing_in("first_frond", batch=batch, start_stage="sown")
    later = standing_in("first_frond", expected=TODAY + timedelta(days=8), start_stage="sown")
    week = weeks_work(today=TODAY)
    assert codes(week.prick_out) == [mat.code]
    assert later.code not in codes(week.prick_out)
    assert week.prick_out[0].plants == 140
    assert (week.prick_out_needs.trays, week.prick_out_needs.litres) == (2, 4.2)
    # 140 plants at the usual 600 a day of 7 hours: nobody's own pace is known from one day.
    assert (week.prick_out_needs.hours, week.pace_known) == (1.6, False)


def test_more_to_come_is_named_on_its_week():
    mat = standing_in("first_frond", start_stage="sown", expected=None,
                      come_back_on=TODAY + timedelta(days=6))  # fmt: skip
    standing_in("first_frond", start_stage="sown", expected=None,
                come_back_on=TODAY + timedelta(days=7))  # fmt: skip
    assert codes(weeks_work(today=TODAY).prick_out) == [mat.code]


def test_a_fern_is_potted_before_its_last_week_and_not_after_it():
    week = TODAY.isocalendar().week
    soon = TaxonFactory(last_pot_up_week=week + 2)
    over = TaxonFactory(last_pot_up_week=week - 1)
    far = TODAY + timedelta(days=90)
    named = standing_in("pricked_out", batch=BatchFactory(taxon=soon), counted=80, expected=far)
    standing_in("pricked_out", batch=BatchFactory(taxon=over), counted=80)
    found = weeks_work(today=TODAY).pot_up
    assert codes(found) == [named.code]
    assert f"before the end of week {week + 2}" in found[0].why


def test_a_resting_fern_and_an_isolated_tray_are_left_in_peace():
    week = TODAY.isocalendar().week
    resting = TaxonFactory(rest_from_week=week, rest_to_week=week + 3)
    standing_in("pricked_out", batch=BatchFactory(taxon=resting), counted=10)
    standing_in("pricked_out", counted=10, isolated=True)
    assert weeks_work(today=TODAY).pot_up == ()


def test_orders_of_the_week_are_laid_one_after_the_other_against_ready_pots():
    taxon = TaxonFactory()
    one = TrayFactory(batch=BatchFactory(taxon=taxon), carrier=True, counted=50)
    Tray.objects.filter(pk=one.pk).update(stage="ready")
    first = OrderFactory(taxon=taxon, quantity=40, pot_size="9 cm", wanted_on=TODAY)
    second = OrderFactory(
        taxon=taxon, quantity=30, pot_size="9 cm", wanted_on=TODAY + timedelta(days=3)
    )
    OrderFactory(taxon=taxon, quantity=9, wanted_on=TODAY + timedelta(days=30))
    found = {row.order: (row.open, row.short) for row in weeks_work(today=TODAY).leaving}
    assert found == {first: (40, 0), second: (30, 20)}


def test_free_places_and_an_empty_week():
    BenchFactory(rows=2, columns=3)
    week = weeks_work(today=TODAY)
    assert week.nothing
    assert week.free_places is None
    standing_in("first_frond", start_stage="sown")
    assert weeks_work(today=TODAY).free_places == 6


def test_queries_do_not_grow_with_the_work(django_assert_max_num_queries):
    for _ in range(3):
        standing_in("pricked_out", counted=10)
    with django_assert_max_num_queries(14) as few:
        weeks_work(today=TODAY)
    for _ in range(27):
        standing_in("pricked_out", counted=10)
    with django_assert_max_num_queries(len(few)):
        assert weeks_work(today=TODAY).pot_up_needs.out_of == 30


def test_the_first_trays_are_named_and_all_are_counted():
    for _ in range(25):
        standing_in("pricked_out", counted=10)
    week = weeks_work(today=TODAY)
    assert (len(week.pot_up), week.pot_up_needs.out_of, week.not_named) == (20, 25, 5)
    assert week.pot_up_needs.plants == 250
    everything = weeks_work(today=TODAY, named=None)
    assert (len(everything.pot_up), everything.not_named) == (25, 0)
    assert codes(everything.pot_up[:20]) == codes(week.pot_up)
