"""Are origins of every kind written down, spelt out and looked at from their pages?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import Source
from tests.factories import (
    TODAY,
    BatchFactory,
    BenchFactory,
    SourceFactory,
    SporeLotFactory,
    TaxonFactory,
)
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def origin_form(**more) -> dict[str, str]:
    taxon = more.pop("taxon", None) or TaxonFactory()
    given: dict[str, object] = {"taxon": taxon.code, "kind": "stock_plant", "provenance": "G"}
    return filled(**(given | more))


def test_an_empty_list_teaches_the_first_steps(hand):
    words = page(hand, "stock-plants")
    assert "No origins yet" in words
    assert reverse("batches:stock-plant-new") in words


def test_provenance_is_spelt_out_and_never_a_letter(hand):
    source = SourceFactory(provenance="Z")
    for words in (page(hand, "stock-plants"), page(hand, "stock-plant", source.code)):
        assert "raised from wild-origin material" in words
        assert ">Z<" not in words


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_list_asks_the_same_of_3_and_30_origins(hand, how_many, django_assert_num_queries):
    SourceFactory.create_batch(how_many)
    # The session and the person; the count, the page, its lots and its batches.
    with django_assert_num_queries(6):
        page(hand, "stock-plants")


def test_the_list_is_narrowed(hand):
    plant, bought = SourceFactory(), SourceFactory(kind="purchase", supplier="Fernhill Plugs")
    assert plant.code not in page(hand, "stock-plants", kind="purchase")
    assert bought.code not in page(hand, "stock-plants", fern=plant.code.lower())
    assert "No origin fits" in page(hand, "stock-plants", fern="no such fern")


def test_an_origin_is_written_down(hand):
    bench = BenchFactory()
    form = origin_form(bench=bench.code, ripe_from_week=50, ripe_to_week=4, notes="by the tank")
    answer = hand.post(reverse("batches:stock-plant-new"), form, follow=True)
    source = Source.objects.get()
    assert answer.redirect_chain == [(reverse("batches:stock-plant", args=[source.code]), 302)]
    assert "weeks 50 to 4" in answer.content.decode()
    assert (source.bench, source.notes) == (bench, "by the tank")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"kind": "purchase"}, "From whom was it bought?"),
        ({"kind": "wild", "provenance": "W"}, "Say where it grows"),
        ({"provenance": ""}, "Provenance"),
        ({"ripe_from_week": 0, "ripe_to_week": 4}, "There is no week 0"),
        ({"ripe_from_week": 4}, "first and its last week"),
        ({"own_code": "two words"}, "cannot be a code"),
    ],
)
def test_an_origin_that_cannot_be_comes_back_with_what_was_typed(hand, more, words):
    answer = hand.post(reverse("batches:stock-plant-new"), origin_form(notes="by the tank", **more))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "by the tank" in answer.content.decode()
    assert Source.objects.count() == 0


def test_wild_material_without_a_permit_is_warned_of(hand):
    form = origin_form(kind="wild", provenance="W", locality="Ashlinn Water")
    answer = hand.post(reverse("batches:stock-plant-new"), form, follow=True)
    assert "without a permit noted" in answer.content.decode()
    assert "permit" in page(hand, "stock-plant-new")


def test_an_origin_is_noted_anew(hand):
    source = SourceFactory(notes="by the tank")
    address = reverse("batches:stock-plant-edit", args=[source.code])
    assert "by the tank" in hand.get(address).content.decode()
    form = filled(kind="stock_plant", provenance="U", notes="moved", ripe_from_week=23)
    assert hand.post(address, form).status_code == 422
    hand.post(address, form | {"ripe_to_week": "25"})
    source.refresh_from_db()
    assert (source.provenance, source.notes, source.ripe_weeks) == ("U", "moved", (23, 25))


def test_sori_are_looked_at(hand):
    source = SourceFactory(ripe_from_week=23, ripe_to_week=25)
    address = reverse("batches:stock-plant", args=[source.code])
    assert "look now" in page(hand, "stock-plant", source.code)
    wrong = hand.post(address, {"deed": "sori", "on": "2026-06-11"})
    assert wrong.status_code == 422
    assert hand.post(address, {"deed": "sori", "on": "2026-06-10"}).status_code == 302
    source.refresh_from_db()
    assert source.sori_looked_on == TODAY
    assert "look now" not in page(hand, "stock-plant", source.code)


def test_an_origin_leads_to_what_came_of_it(hand):
    lot = SporeLotFactory()
    batch = BatchFactory(division=True, source=lot.source)
    words = page(hand, "stock-plant", lot.source.code)
    for name, code in (("lot", lot.code), ("batch", batch.code), ("trace", lot.source.code)):
        assert reverse(f"batches:{name}", args=[code]) in words
    assert f"{reverse('batches:lot-new')}?origin={lot.source.code}" in words
    answer = hand.get(reverse("batches:stock-plant", args=[lot.source.code.lower()]))
    assert answer["Location"] == reverse("batches:stock-plant", args=[lot.source.code])
