"""Does a selected form leave its tray by a page, as a batch of its own?"""

from __future__ import annotations

from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import Batch, Tray
from tests.factories import TODAY, TaxonFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def plugs():
    return TrayFactory(cells_of_84=True, counted=84)


def page_of(tray) -> str:
    return reverse("batches:select-form", args=[tray.code])


def body(tray, **fields):
    return {
        "quantity": 3, "on": TODAY.isoformat(), "container": "carrier 9 cm", "pot_size": "9 cm",
        "unit": "plants", "record_id": str(uuid4()), "revision": tray.revision,
    } | fields  # fmt: skip


def test_three_crested_ones_become_a_batch_that_leads_back(hand, plugs):
    fern = TaxonFactory(cultivar="Ashlinn Crest")
    form = body(plugs, taxon=fern.code, notes="crested")
    for _ in range(2):
        answer = hand.post(page_of(plugs), form, follow=True)
    batch = Batch.objects.get(route="division")
    assert batch.source is not None
    assert (batch.source.mothers, batch.taxon) == (plugs.code, fern)
    child = Tray.objects.get(batch=batch)
    assert child.alive == 3
    assert child.code in answer.content.decode()
    plugs.refresh_from_db()
    assert plugs.alive == 81


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"quantity": 85}, "Nothing was stored"),
        ({"quantity": 0}, "greater than or equal to 1"),
        ({"on": "2027-01-01"}, "future"),
        ({"container": ""}, "required"),
        ({"revision": 99}, "Somebody else"),
    ],
)
def test_what_cannot_be_is_told_and_kept(hand, plugs, fields, words):
    answer = hand.post(page_of(plugs), body(plugs, notes="kept words", **fields))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "kept words" in answer.content.decode()
    assert Batch.objects.count() == 1


def test_the_tray_offers_it_and_an_ended_one_says_what_became_of_it(hand, plugs):
    page = hand.get(reverse("batches:tray", args=[plugs.code])).content.decode()
    assert page_of(plugs) in page
    Tray.objects.filter(pk=plugs.pk).update(ended_on=TODAY, end="discarded", end_cause="rot")
    assert "was discarded" in hand.get(page_of(plugs), follow=True).content.decode()
