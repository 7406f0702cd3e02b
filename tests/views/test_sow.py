"""Is a batch started by each way from one form, with what is to be known said at the step?"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import Batch, MediumBatch, PlannedSowing, Tray
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    GerminationTestFactory,
    MediumBatchFactory,
    SourceFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayFactory,
)
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
WAYS = ["spores", "bulbils", "division", "bought-in"]


def address(way: str) -> str:
    return reverse("batches:sow-route", args=[way])


def spores(lot, **more):
    given = {
        "lot": lot.code, "on": "2026-06-10", "how_many": 3, "container": "covered tray",
        "go_on": "on",
    }  # fmt: skip
    return filled(**(given | more))


def test_the_ways_are_plain_links(hand):
    words = page(hand, "sow")
    assert [way for way in WAYS if address(way) in words] == WAYS
    assert hand.get(address("cuttings")).status_code == 404


def test_a_way_without_anything_to_start_from_leads_there_first(hand):
    assert hand.get(address("spores"))["Location"] == reverse("batches:lots")
    assert hand.get(address("division"))["Location"] == reverse("batches:stock-plants")


@pytest.mark.parametrize("way", WAYS)
def test_every_way_shows_its_cautions(hand, way):
    SporeLotFactory()
    words = hand.get(address(way)).content.decode()
    assert "Legionella" in words
    assert ("blade" in words) == (way in {"bulbils", "division"})
    assert ("plant health law" in words) == (way == "bought-in")


def test_spores_are_sown_and_labels_offered(hand):
    lot, medium, bench = SporeLotFactory(), MediumBatchFactory(), BenchFactory()
    form = spores(
        lot, sown_mg="4.5", medium=medium.code, bench=bench.code, control="on", sold_as="Shield",
        notes="thinly", container_state="washed",
    )  # fmt: skip
    answer = hand.post(address("spores"), form, follow=True)
    batch = Batch.objects.get()
    assert answer.redirect_chain == [(reverse("batches:batch", args=[batch.code]), 302)]
    words = answer.content.decode()
    assert "3 trays sown and one unsown control" in words
    assert f"{reverse('batches:labels')}?batch={batch.code}" in words
    assert "4 unlabelled" in words
    for tray in Tray.objects.all():
        assert reverse("batches:tray", args=[tray.code]) in words
        assert (tray.bench, tray.container_state) == (bench, "washed")
    assert (batch.sold_as, batch.notes, batch.sown_mg) == ("Shield", "thinly", 4.5)
    assert batch.medium_batch == medium


def test_who_sowed_is_the_one_who_is_signed_in(hand, hand_person):
    division = filled(
        source=SourceFactory().code, on="2026-06-10", how_many=1, container="carrier", each=6,
        unit="pots",
    )  # fmt: skip
    hand.post(address("division"), division)
    (move,) = Tray.objects.get().movements.all()
    assert (move.by, move.quantity) == (hand_person.name, 6)


def test_the_same_form_sent_twice_starts_one_batch(hand):
    form = spores(SporeLotFactory())
    first, again = (hand.post(address("spores"), form) for _ in range(2))
    assert first["Location"] == again["Location"]
    assert (Batch.objects.count(), Tray.objects.count()) == (1, 3)


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"on": "2026-06-11"}, "lies in the future"),
        ({"on": "2025-08-10"}, "cannot have been sown before"),
        ({"how_many": 0}, "greater than or equal to 1"),
        ({"how_many": 201}, "1 to 200 trays at once"),
        ({"sown_mg": 121}, "holds 120 mg; 121 mg cannot be taken"),
        ({"lot": "NOTHING"}, "Lot"),
        ({"bench": "NOTHING"}, "bench"),
        ({"container": " "}, "Container"),
    ],
)
def test_a_sowing_that_cannot_be_comes_back_with_what_was_typed(hand, more, words):
    answer = hand.post(address("spores"), spores(SporeLotFactory(), notes="kept") | more)
    body = answer.content.decode()
    assert answer.status_code == 422
    assert words in body
    assert "kept" in body
    assert Batch.objects.count() == 0


def test_what_to_know_of_a_lot_stands_beside_the_form(hand):
    fern = TaxonFactory(green=True, cultivar="Cristata", protection="protected by law")
    lot = SporeLotFactory(
        source__taxon=fern, collected_on=TODAY - timedelta(days=20), cleaned_on=TODAY
    )
    GerminationTestFactory(lot=lot, sown_on=TODAY, counted_on=TODAY, counted=200, germinated=50)
    for words in (
        hand.get(address("spores"), {"lot": lot.code}).content.decode(),
        hand.get(reverse("batches:sow-about"), {"lot": lot.code}).content.decode(),
        hand.post(address("spores"), spores(lot, ask="yes", notes="kept")).content.decode(),
    ):
        assert "past their sow-by of Thu 4 Jun 2026" in words
        assert "protected by law" in words
        assert "25 % of 200" in words
        assert "ex ‘Cristata’" in words
    assert Batch.objects.count() == 0


def test_asking_what_to_know_keeps_what_was_typed(hand):
    answer = hand.post(address("spores"), spores(SporeLotFactory(), ask="yes", how_many=17))
    assert answer.status_code == 200
    assert 'value="17"' in answer.content.decode()


def test_what_to_know_of_nothing_is_nothing(hand):
    for query in ({}, {"lot": "NOTHING"}, {"source": "NOTHING"}):
        words = hand.get(reverse("batches:sow-about"), query).content.decode()
        assert "Choose what it is started from" in words
    plant = SourceFactory(taxon=TaxonFactory(tree_fern=True))
    words = hand.get(reverse("batches:sow-about"), {"source": plant.code}).content.decode()
    assert "CITES Appendix II" in words


def chosen_bench(words: str) -> str:
    (code,) = re.findall(r'<option value="([^"]+)" selected>[^<]*free</option>', words)
    return str(code)


def test_the_first_bench_with_room_in_walking_order_is_suggested(hand):
    SporeLotFactory()
    full = BenchFactory(rows=1, columns=1, walk_order=1)
    TrayFactory(bench=full, row=1, column=1)
    small = BenchFactory(rows=1, columns=2, walk_order=2)
    roomy = BenchFactory(rows=2, columns=4, walk_order=3)
    words = hand.get(address("spores")).content.decode()
    assert chosen_bench(words) == roomy.code
    assert "2 free" in words
    TrayFactory.create_batch(8, bench=roomy)
    for place, tray in enumerate(roomy.trays.all()):
        tray.row, tray.column = place // 4 + 1, place % 4 + 1
        tray.save()
    assert chosen_bench(hand.get(address("spores")).content.decode()) == small.code


def test_a_planned_sowing_fills_the_form_and_is_done_by_it(hand):
    lot = SporeLotFactory()
    plan = PlannedSowing.objects.create(
        taxon=lot.taxon, trays=7, sow_on=TODAY, why="for the spring order",
        planned_by="Maeve Corrin", planned_at=NOW,
    )  # fmt: skip
    assert "for the spring order" in page(hand, "sow")
    words = hand.get(address("spores"), {"planned": plan.pk}).content.decode()
    assert 'value="7"' in words
    assert lot.code in words
    hand.post(address("spores"), spores(lot, planned=plan.pk))
    plan.refresh_from_db()
    assert plan.batch == Batch.objects.get()
    assert "for the spring order" not in page(hand, "sow")


def test_bulbils_are_pegged_down(hand):
    form = filled(
        source=SourceFactory().code, on="2026-06-10", how_many=2, container="covered tray"
    )
    assert hand.post(address("bulbils"), form).status_code == 302
    assert {(tray.stage, tray.alive) for tray in Tray.objects.all()} == {("pegged_down", None)}


def test_bought_plants_come_in_counted_and_only_from_where_they_were_bought(hand):
    plant = SourceFactory()
    bought = SourceFactory(kind="purchase", supplier="Fernhill Plugs")
    form = {
        "stage": "pricked_out", "on": "2026-06-10", "how_many": 2, "each": 104, "unit": "plants",
        "container": "cell tray", "cells": 104,
    }  # fmt: skip
    answer = hand.post(address("bought-in"), filled(source=plant.code, **form))
    assert answer.status_code == 422
    answer = hand.post(address("bought-in"), filled(source=bought.code, **form) | {"each": ""})
    assert answer.status_code == 422
    assert hand.post(address("bought-in"), filled(source=bought.code, **form)).status_code == 302
    assert {(t.stage, t.alive, t.cells) for t in Tray.objects.all()} == {("pricked_out", 104, 104)}


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_form_asks_the_same_of_3_and_30_of_everything(
    hand, how_many, django_assert_num_queries
):
    for _ in range(how_many):
        lot = SporeLotFactory()
        TrayFactory(bench=BenchFactory(), row=1, column=1)
        MediumBatchFactory()
    assert MediumBatch.objects.count() == how_many
    hand.get(address("spores"))  # the first page notes when the session was last used
    with django_assert_num_queries(12):
        hand.get(address("spores"), {"lot": lot.code})
