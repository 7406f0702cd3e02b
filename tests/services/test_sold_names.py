"""Does a cultivar from spores carry its name only when it was seen to be true?

International Code of Nomenclature for Cultivated Plants, 9th edition (2016), from memory: a
cultivar's name belongs to plants that are true to it.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.core.errors import NotPossibleNow, OutOfTime
from batches.labels.from_records import pot_labels
from batches.models import Batch
from batches.services.sold_names import confirm_true, may_be_confirmed, name_batch
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY, NOW = make.TODAY, make.NOW


def cultivar_batch(**more) -> Batch:
    fern = make.TaxonFactory(cultivar="Herrenhausen", **more)
    batch: Batch = make.BatchFactory(spore_lot__source__taxon=fern)
    return batch


def sold(batch: Batch) -> str:
    return "".join(run.text for run in Batch.objects.get(pk=batch.pk).sold_name)


def test_until_it_is_confirmed_it_is_sold_as_ex_or_under_its_group():
    assert sold(cultivar_batch()) == "Polystichum setiferum ex 'Herrenhausen'"
    grouped = cultivar_batch(group="Divisilobum Group")
    assert sold(grouped) == "Polystichum setiferum Divisilobum Group"


def test_confirmed_true_it_carries_its_name():
    batch = cultivar_batch()
    kept = confirm_true(batch=batch, on=TODAY, now=NOW)
    assert kept.batch.confirmed_true_on == TODAY
    assert "'Herrenhausen'" in kept.message
    assert sold(batch) == "Polystichum setiferum 'Herrenhausen'"
    assert not may_be_confirmed(kept.batch)
    with pytest.raises(NotPossibleNow, match="confirmed true on Wed 10 Jun 2026"):
        confirm_true(batch=kept.batch, on=TODAY, now=NOW)


def test_a_stale_page_does_not_confirm_twice():
    batch = cultivar_batch()
    stale = Batch.objects.select_related("taxon").get(pk=batch.pk)
    confirm_true(batch=batch, on=TODAY, now=NOW)
    with pytest.raises(NotPossibleNow, match="somebody else"):
        confirm_true(batch=stale, on=TODAY - timedelta(days=1), now=NOW)
    assert Batch.objects.get(pk=batch.pk).confirmed_true_on == TODAY


def test_only_a_cultivar_from_spores_needs_it():
    for batch in (make.BatchFactory(), make.BatchFactory(division=True)):
        assert not may_be_confirmed(batch)
        with pytest.raises(NotPossibleNow, match="carries its name already"):
            confirm_true(batch=batch, on=TODAY, now=NOW)


@pytest.mark.parametrize("days", [1, -1_000])
def test_a_day_that_cannot_be_is_refused(days):
    batch = cultivar_batch()
    with pytest.raises(OutOfTime):
        confirm_true(batch=batch, on=TODAY + timedelta(days=days), now=NOW)
    assert Batch.objects.get(pk=batch.pk).confirmed_true_on is None


def test_what_labels_print_may_be_set_and_taken_back():
    batch = cultivar_batch()
    kept = name_batch(batch=batch, sold_as="  crested   shield fern ", notes=" slow ")
    assert (kept.batch.sold_as, kept.batch.notes) == ("crested shield fern", "slow")
    assert "new name" in kept.message
    assert sold(batch) == "crested shield fern"
    kept = name_batch(batch=kept.batch, sold_as="", notes="slow")
    assert sold(batch) == "Polystichum setiferum ex 'Herrenhausen'"


def test_the_pot_label_carries_the_sold_name_and_the_true_one_once_confirmed():
    batch = cultivar_batch()
    carrier = make.TrayFactory(batch=batch, carrier=True)

    def printed() -> str:
        (row,) = pot_labels(codes=[carrier.code], address="https://fern.home.arpa").rows
        return "".join(text for text, _ in row.name_runs)

    assert printed() == "Polystichum setiferum ex 'Herrenhausen'"
    confirm_true(batch=batch, on=TODAY, now=NOW)
    assert printed() == "Polystichum setiferum 'Herrenhausen'"
    name_batch(batch=batch, sold_as="crested shield fern", notes="")
    assert printed() == "crested shield fern"
