"""Is a mixing written as the records write it, and does its heat say what it leaves open?"""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

import pytest

from batches.core.errors import AlreadyTaken, NotUnderstood, OutOfTime
from batches.models import Medium, MediumBatch
from batches.services.media import medium_rows, mix_medium, recipes, tidy_recipe
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def mix(**more):
    given: dict[str, Any] = {"recipe": "peat:2 perlite:1", "made_on": TODAY, "now": NOW}
    return mix_medium(**(given | more))


@pytest.mark.parametrize(
    ("text", "tidy"),
    [
        ("peat:2 perlite:1", "peat:2 perlite:1"),
        (" Peat : 2,  Perlite:1 ", "peat:2 perlite:1"),
        ("composted_bark:1.5 sharp-sand:1", "composted_bark:1.5 sharp-sand:1"),
    ],
)
def test_a_recipe_is_put_as_the_records_write_it(text, tidy):
    assert tidy_recipe(text) == tidy


@pytest.mark.parametrize("text", ["", "peat", "peat:0", "2:peat", "peat:-1", "peat:1 Peat:2"])
def test_what_is_no_recipe_is_refused_in_words(text):
    with pytest.raises(NotUnderstood) as refused:
        mix(recipe=text)
    assert refused.value.field == "recipe"
    assert MediumBatch.objects.count() == 0


@pytest.mark.parametrize(
    ("more", "error", "field"),
    [
        ({"made_on": TODAY + timedelta(days=1)}, OutOfTime, "made_on"),
        ({"litres": 0.0}, NotUnderstood, "litres"),
        ({"temperature_c": 201.0}, NotUnderstood, "temperature_c"),
        ({"minutes": -1.0}, NotUnderstood, "minutes"),
        ({"cooled_at": NOW + timedelta(minutes=1)}, OutOfTime, "cooled_at"),
        ({"cooled_at": NOW - timedelta(days=2)}, OutOfTime, "cooled_at"),
    ],
)
def test_a_mixing_that_cannot_be_is_refused(more, error, field):
    with pytest.raises(error) as refused:
        mix(**more)
    assert refused.value.field == field
    assert MediumBatch.objects.count() == 0


def test_the_same_form_sent_twice_mixes_once():
    record_id = uuid.uuid4()
    assert mix(record_id=record_id) == mix(record_id=record_id)
    assert MediumBatch.objects.count() == 1


def test_a_recipe_is_kept_under_a_name_and_a_name_stands_for_one():
    mix(keep_as=" Sowing  mix ")
    assert [(kept.name, kept.recipe) for kept in recipes()] == [("Sowing mix", "peat:2 perlite:1")]
    mix(keep_as="sowing mix")
    assert Medium.objects.count() == 1
    with pytest.raises(AlreadyTaken, match="Sowing mix") as refused:
        mix(recipe="bark:3 sand:1", keep_as="Sowing mix")
    assert refused.value.field == "keep_as"
    assert MediumBatch.objects.count() == 2


def test_its_row_counts_what_stands_on_it(django_assert_num_queries):
    mixed = make.MediumBatchFactory()
    batch = make.BatchFactory(medium_batch=mixed)
    make.TrayFactory(batch=batch)
    make.TrayFactory(medium_batch=mixed)
    other = make.MediumBatchFactory()
    with django_assert_num_queries(2):
        first, second = medium_rows(media=[mixed, other])
    assert (first.batches, first.trays) == (1, 1)
    assert (second.batches, second.trays) == (0, 0)
