"""Is a fern named rightly, refused in words when it cannot be, and do its trays' dates follow?"""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from batches.core.errors import AlreadyTaken, NotUnderstood
from batches.core.names import botanical_name
from batches.models import OwnWindow, Taxon, Tray
from batches.services.ferns import (
    FernFacts,
    OwnDays,
    change_fern,
    keep_own_days,
    name_fern,
    propose_code,
    sow_by_days_of,
    windows_of,
)
from batches.services.standing import differing, refold
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def facts(**more) -> FernFacts:
    return FernFacts(**({"spore_kind": "not_green"} | more))


def name(genus="Dryopteris", species="affinis", **more):
    return botanical_name(genus=genus, species=species, **more)


def fern(**more) -> Taxon:
    given: dict[str, Any] = {"name": name(cultivar="Cristata"), "facts": facts(), "now": NOW} | more
    return name_fern(**given)


# Naming


def test_a_fern_gets_a_code_from_its_name_and_the_next_one_a_number():
    assert fern().code == "DRYAFF-CRI"
    assert fern(name=name(cultivar="Cristulata")).code == "DRYAFF-CRI2"
    assert fern(name=name()).code == "DRYAFF"


def test_a_proposed_code_never_meets_one_that_anything_carried():
    make.BenchFactory(code="Dryaff")
    assert propose_code(name()) == "DRYAFF-2"
    assert fern(name=name()).code == "DRYAFF-2"


def test_the_name_is_put_right_as_it_is_stored():
    stored = fern(name=name(genus="POLYSTICHUM", species="x dycei", cultivar='"Proud"'))
    assert (stored.genus, stored.species, stored.hybrid) == ("Polystichum", "dycei", "species")
    assert stored.cultivar == "Proud"
    # ICNCP (2016): the cultivar in single quotes; ICN (2018): no space behind the sign.
    assert stored.name.text == "Polystichum ×dycei 'Proud'"


def test_one_name_is_one_fern():
    first = fern()
    with pytest.raises(AlreadyTaken, match=f"here already, as {first.code}"):
        fern(name=name(cultivar="cristata"))
    assert Taxon.objects.count() == 1


def test_the_same_form_sent_twice_names_one_fern():
    record_id = uuid.uuid4()
    assert fern(record_id=record_id) == fern(record_id=record_id)
    assert Taxon.objects.count() == 1


def test_an_own_code_that_is_taken_is_refused_and_nothing_is_stored():
    fern(own_code="Golden")
    with pytest.raises(AlreadyTaken, match="Golden"):
        fern(name=name(), own_code="Golden")
    assert Taxon.objects.count() == 1


def test_a_rest_may_run_over_new_year():
    stored = fern(facts=facts(rest_from_week=44, rest_to_week=10))
    assert stored.rest_weeks == (44, 10)


@pytest.mark.parametrize(
    ("more", "words", "field"),
    [
        ({"rest_from_week": 0, "rest_to_week": 10}, "no week 0", "rest_from_week"),
        ({"rest_from_week": 44, "rest_to_week": 54}, "no week 54", "rest_to_week"),
        ({"rest_from_week": 1, "rest_to_week": 53}, "all year", "rest_to_week"),
        ({"rest_from_week": 44, "rest_to_week": 43}, "all year", "rest_to_week"),
        ({"rest_from_week": 44}, "first and its last week", "rest_to_week"),
        ({"rest_to_week": 44}, "first and its last week", "rest_from_week"),
        ({"last_pot_up_week": 54}, "no week 54", "last_pot_up_week"),
        ({"sow_by_days": 0}, "1 to 3,650", "sow_by_days"),
        ({"routes": ()}, "raised from", "routes"),
        ({"routes": ("spore", "cutting")}, "raised from", "routes"),
        ({"spore_kind": "brown"}, "green", "spore_kind"),
        ({"form": "palm"}, "tree fern", "form"),
    ],
)
def test_facts_that_make_no_sense_are_refused_in_words(more, words, field):
    with pytest.raises(NotUnderstood, match=words) as refused:
        fern(facts=facts(**more))
    assert refused.value.field == field
    assert Taxon.objects.count() == 0


def test_routes_are_stored_in_one_order():
    assert fern(facts=facts(routes=("division", "spore"))).routes == "spore division"


# Changing


def test_its_trays_and_lots_follow_a_change():
    taxon = make.TaxonFactory()
    batch = make.BatchFactory(spore_lot__source__taxon=taxon)
    tray = make.TrayFactory(batch=batch)
    potted = make.TrayFactory(batch=batch, carrier=True, counted=20)
    ended = make.TrayFactory(batch=batch, ended_on=TODAY, end="cleared")
    refold(trays=[tray, potted, ended], recorded_at=NOW)
    before = Tray.objects.get(pk=tray.pk).late_on
    fresh = make.SporeLotFactory(
        source=batch.spore_lot.source,
        collected_on=TODAY,
        cleaned_on=None,
        sow_by=TODAY + timedelta(days=1_045),
    )
    by_hand = make.SporeLotFactory(
        source=batch.spore_lot.source,
        collected_on=TODAY,
        cleaned_on=None,
        sow_by=TODAY + timedelta(days=300),
    )
    changed = change_fern(
        taxon=taxon,
        name=name("Osmunda", "regalis"),
        facts=facts(spore_kind="green", rest_from_week=44, rest_to_week=10),
        now=NOW,
    )
    assert (changed.code, changed.name.text) == (taxon.code, "Osmunda regalis")
    tray.refresh_from_db()
    # Sown to first green of green spores: late after 21 days instead of 90.
    assert before - tray.late_on == timedelta(days=69)
    assert differing() == (3, ())
    fresh.refresh_from_db()
    by_hand.refresh_from_db()
    assert fresh.sow_by == TODAY + timedelta(days=14)
    assert by_hand.sow_by == TODAY + timedelta(days=300)


def test_a_fern_may_keep_its_own_name_and_not_take_anothers():
    first, second = fern(), fern(name=name())
    change_fern(taxon=second, name=name(), facts=facts(notes="hardy"), now=NOW)
    with pytest.raises(AlreadyTaken, match=first.code):
        change_fern(taxon=second, name=name(cultivar="Cristata"), facts=facts(), now=NOW)
    second.refresh_from_db()
    assert (second.notes, second.cultivar) == ("hardy", "")


@pytest.mark.parametrize("how_many", [3, 30])
def test_a_change_asks_the_same_of_3_and_30_trays(how_many, django_assert_max_num_queries):
    batch = make.BatchFactory()
    trays = make.TrayFactory.create_batch(how_many, batch=batch)
    refold(trays=trays, recorded_at=NOW)
    days = [OwnDays(route="spore", stage="sown", early=5, usual=20, late=40)]
    with django_assert_max_num_queries(20):
        keep_own_days(taxon=batch.taxon, days=days, now=NOW)


# Own days


def test_own_days_move_the_dates_of_its_trays_and_going_back_moves_them_back():
    batch = make.BatchFactory()
    tray = make.TrayFactory(batch=batch)
    refold(trays=[tray], recorded_at=NOW)
    tray.refresh_from_db()
    default = (tray.late_on, tray.look_due_on)
    own = OwnDays(route="spore", stage="sown", early=5, usual=20, late=40, look_every=3)
    assert keep_own_days(taxon=batch.taxon, days=[own], now=NOW) == 1
    tray.refresh_from_db()
    assert tray.late_on == tray.started_on + timedelta(days=40)
    assert tray.look_due_on == tray.started_on + timedelta(days=3)
    assert differing() == (1, ())
    assert keep_own_days(taxon=batch.taxon, days=[], now=NOW) == 0
    tray.refresh_from_db()
    assert (tray.late_on, tray.look_due_on) == default
    assert OwnWindow.objects.count() == 0


@pytest.mark.parametrize(
    "days",
    [
        {"early": 0}, {"early": 30}, {"late": 10}, {"late": 3_651}, {"early": float("nan")},
        {"stage": "ready"}, {"stage": "pegged_down"}, {"route": "cutting"}, {"look_every": 0},
        {"look_every": 366},
    ],
)  # fmt: skip
def test_days_that_make_no_sense_leave_everything_as_it_was(days):
    taxon = make.TaxonFactory()
    good: dict[str, Any] = {
        "route": "spore", "stage": "sown", "early": 5, "usual": 20, "late": 40,
    }  # fmt: skip
    keep_own_days(taxon=taxon, days=[OwnDays(**good)], now=NOW)
    other = OwnDays(route="spore", stage="gametophyte", early=5, usual=20, late=40)
    with pytest.raises(NotUnderstood):
        keep_own_days(taxon=taxon, days=[other, OwnDays(**(good | days))], now=NOW)
    assert [window.stage for window in taxon.own_windows.all()] == ["sown"]


def test_windows_show_own_days_beside_default_ones():
    taxon = make.TaxonFactory(routes="spore division")
    own = OwnDays(route="spore", stage="sown", early=5, usual=20, late=40, look_every=3)
    keep_own_days(taxon=taxon, days=[own], now=NOW)
    spore, division = windows_of(taxon=taxon)
    assert [line.stage for line in spore.lines] == [
        "sown", "gametophyte", "first_frond", "pricked_out", "potted_up",
    ]  # fmt: skip
    assert (spore.lines[0].late, spore.lines[0].own, spore.lines[0].look_every) == (40, True, 3)
    assert (spore.lines[1].late, spore.lines[1].own) == (365, False)
    assert [line.next_stage for line in division.lines] == ["rooted_in", "potted_up", "ready"]


@pytest.mark.parametrize(
    ("more", "days"), [({"green": True}, 14), ({}, 1_045), ({"sow_by_days": 7}, 7)]
)
def test_days_to_sow_within(more, days):
    assert sow_by_days_of(make.TaxonFactory(**more)) == days
