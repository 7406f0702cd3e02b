"""Does a batch show where it came from, what stands of it, and under which name it is sold?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import Batch
from tests.factories import TODAY, BatchFactory, TaxonFactory, TrayFactory
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def cultivar_batch() -> Batch:
    fern = TaxonFactory(cultivar="Herrenhausen", group="Divisilobum Group")
    batch: Batch = BatchFactory(spore_lot__source__taxon=fern)
    return batch


def do(client, batch, deed, **fields):
    return client.post(reverse("batches:batch", args=[batch.code]), {"deed": deed, **fields})


def test_an_empty_list_teaches_the_first_steps(hand):
    words = page(hand, "batches")
    assert "No batches yet" in words
    assert reverse("batches:sow") in words


def test_the_list_shows_what_is_alive_by_stage(hand):
    batch = TrayFactory(cells_of_84=True, counted=80).batch
    TrayFactory(batch=batch)
    words = page(hand, "batches")
    assert batch.code in words
    assert "80 plants" in words
    assert "sown in 1 tray" in words


def test_the_list_is_narrowed(hand):
    standing = TrayFactory().batch
    over = TrayFactory(batch=BatchFactory(division=True), ended_on=TODAY, end="cleared").batch
    assert over.code not in page(hand, "batches")
    assert over.code in page(hand, "batches", show="all")
    assert standing.code not in page(hand, "batches", show="all", route="division")
    assert "No batch fits" in page(hand, "batches", fern="no such fern")
    assert standing.code in page(hand, "batches", route="nonsense")


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_list_asks_the_same_of_3_and_30_batches(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        TrayFactory()
    # The session and the person; the count, the page and its trays.
    with django_assert_num_queries(5):
        page(hand, "batches")


@pytest.mark.parametrize("how_many", [3, 30])
def test_a_batch_asks_the_same_of_3_and_30_trays(hand, how_many, django_assert_num_queries):
    batch = BatchFactory()
    TrayFactory.create_batch(how_many, batch=batch)
    with django_assert_num_queries(5):
        page(hand, "batch", batch.code)


def test_a_batch_leads_to_its_origin_trays_trail_and_labels(hand):
    tray = TrayFactory(label_printed_on=None)
    ended = TrayFactory(batch=tray.batch, ended_on=TODAY, end="cleared")
    batch = tray.batch
    words = page(hand, "batch", batch.code)
    for name, code in (
        ("lot", batch.spore_lot.code),
        ("stock-plant", batch.spore_lot.source.code),
        ("tray", tray.code),
        ("tray", ended.code),
        ("trace", batch.code),
    ):
        assert reverse(f"batches:{name}", args=[code]) in words
    assert f"{reverse('batches:labels')}?batch={batch.code}" in words
    assert "1 unlabelled" in words
    assert "1 standing, 1 ended" in words


def test_a_code_in_any_case_opens_and_a_strange_one_is_refused(hand):
    batch = BatchFactory(code="Spring-1")
    answer = hand.get(reverse("batches:batch", args=["spring-1"]))
    assert answer["Location"] == reverse("batches:batch", args=[batch.code])
    assert hand.get(reverse("batches:batch", args=["NOTHING"])).status_code == 404


def test_a_cultivar_from_spores_is_confirmed_true_once(hand):
    batch = cultivar_batch()
    words = page(hand, "batch", batch.code)
    assert "Polystichum setiferum</i> Divisilobum Group" in words
    wrong = do(hand, batch, "confirm", **{"confirm-on": "2026-06-11"})
    assert wrong.status_code == 422
    assert "lies in the future" in wrong.content.decode()
    assert do(hand, batch, "confirm", **{"confirm-on": "2026-06-10"}).status_code == 302
    words = page(hand, "batch", batch.code)
    assert "‘Herrenhausen’" in words
    assert "True to name?" not in words
    again = do(hand, batch, "confirm", **{"confirm-on": "2026-06-10"})
    assert again.status_code == 422
    assert "was confirmed true on" in again.content.decode()


def test_a_plain_fern_has_nothing_to_confirm(hand):
    batch = BatchFactory()
    assert "True to name?" not in page(hand, "batch", batch.code)
    assert do(hand, batch, "confirm", **{"confirm-on": "2026-06-10"}).status_code == 422


def test_the_name_labels_print_and_the_notes_are_changed(hand):
    batch = cultivar_batch()
    fields = {"sold_as-sold_as": "crested <fern>", "sold_as-notes": "slow"}
    assert do(hand, batch, "sold_as", **fields).status_code == 302
    words = page(hand, "batch", batch.code)
    assert "crested &lt;fern&gt;" in words
    assert "slow" in words
    long = do(hand, batch, "sold_as", **{"sold_as-sold_as": "x" * 161})
    assert long.status_code == 422
    assert do(hand, batch, "burn").status_code == 404
