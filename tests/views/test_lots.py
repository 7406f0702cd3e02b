"""Is a lot written down, cleaned, tested and ended from its pages, with what was typed kept?"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from batches.models import GerminationTest, SporeLot
from batches.views import clock
from tests.factories import (
    NOW,
    TODAY,
    BatchFactory,
    GerminationTestFactory,
    SourceFactory,
    SporeLotFactory,
    TaxonFactory,
)
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def lot_form(source, **more):
    given: dict[str, object] = {
        "source": source.code, "collected_on": "2026-06-09", "collected_by": "Una Tarn",
        "method": "scraped", "laid_out_to_dry": "on",
    }  # fmt: skip
    return filled(**(given | more))


# The list


def test_an_empty_drawer_teaches_the_first_steps(hand):
    words = page(hand, "lots")
    assert "No lots yet" in words
    assert reverse("batches:lot-new") in words


def test_the_list_says_what_is_due_with_each_lot(hand):
    lot = SporeLotFactory(
        collected_on=TODAY - timedelta(days=6),
        drying_since=TODAY - timedelta(days=6),
        cleaned_on=None,
    )
    words = page(hand, "lots")
    for piece in (lot.code, "Drying for 6 days", "1 with something due today", "1 lot,"):
        assert piece in words


def test_the_list_is_narrowed_and_a_wrong_word_shows_what_is_in_store(hand):
    kept, ended = SporeLotFactory(), SporeLotFactory(ended_on=TODAY)
    assert ended.code not in page(hand, "lots")
    assert kept.code not in page(hand, "lots", show="ended")
    assert kept.code in page(hand, "lots", show="nonsense")
    assert "No lot fits" in page(hand, "lots", fern="no such fern")


@pytest.mark.parametrize("how_many", [3, 30])
def test_the_list_asks_the_same_of_3_and_30_lots(hand, how_many, django_assert_num_queries):
    for _ in range(how_many):
        GerminationTestFactory()
    # The session and the person; three for what is due; the count, the page and its tests.
    with django_assert_num_queries(8):
        page(hand, "lots")


# A new lot


def test_a_lot_is_written_down_and_its_page_opens(hand):
    answer = hand.post(reverse("batches:lot-new"), lot_form(SourceFactory()), follow=True)
    lot = SporeLot.objects.get()
    assert answer.redirect_chain == [(reverse("batches:lot", args=[lot.code]), 302)]
    assert "Write the code on its packet now" in answer.content.decode()
    assert (lot.collected_by, lot.method, lot.drying_since) == (
        "Una Tarn", "scraped", TODAY - timedelta(days=1),
    )  # fmt: skip


def test_the_same_form_sent_twice_makes_one_lot(hand):
    form = lot_form(SourceFactory())
    first = hand.post(reverse("batches:lot-new"), form)
    again = hand.post(reverse("batches:lot-new"), form)
    assert first["Location"] == again["Location"]
    assert SporeLot.objects.count() == 1


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"collected_on": "2026-06-11"}, "Thu 11 Jun 2026 lies in the future"),
        ({"collected_on": "soon"}, "This is no day"),
        ({"source": ""}, "Origin"),
        ({"own_code": "two words"}, "cannot be a code"),
    ],
)
def test_a_lot_that_cannot_be_comes_back_with_what_was_typed(hand, more, words):
    form = lot_form(SourceFactory()) | {"notes": "from the tank"} | more
    answer = hand.post(reverse("batches:lot-new"), form)
    body = answer.content.decode()
    assert answer.status_code == 422
    assert words in body
    assert "from the tank" in body
    assert SporeLot.objects.count() == 0


def test_without_an_origin_one_is_written_down_first_and_leads_back(hand):
    answer = hand.get(reverse("batches:lot-new"))
    assert answer["Location"] == f"{reverse('batches:stock-plant-new')}?then=lot"
    fern = TaxonFactory()
    form = filled(taxon=fern.code, kind="stock_plant", provenance="G")
    answer = hand.post(answer["Location"], form)
    assert answer["Location"].startswith(reverse("batches:lot-new") + "?origin=P26-001-")
    assert "selected" in hand.get(answer["Location"]).content.decode()


def test_cutting_and_the_law_are_cautioned_where_a_lot_is_written_down(hand):
    SourceFactory()
    words = page(hand, "lot-new")
    assert "Cut away from your hand" in words
    assert "permit" in words


# One lot


def test_a_lot_in_any_case_opens_and_another_code_is_refused_in_words(hand):
    lot = SporeLotFactory(code="Drawer-7")
    answer = hand.get(reverse("batches:lot", args=["drawer-7"]))
    assert answer["Location"] == reverse("batches:lot", args=["Drawer-7"])
    answer = hand.get(reverse("batches:lot", args=[lot.source.code]))
    assert answer.status_code == 404
    assert "the code of an origin, not of a lot" in answer.content.decode()
    answer = hand.get(reverse("batches:lot", args=["L26-014-X"]))
    assert "check letter" in answer.content.decode()


def do(client, lot, deed, **fields):
    return client.post(reverse("batches:lot", args=[lot.code]), {"deed": deed, **fields})


def test_a_lot_is_cleaned_weighed_and_stored(hand):
    lot = SporeLotFactory(
        collected_on=TODAY - timedelta(days=2), drying_since=TODAY - timedelta(days=2),
        cleaned_on=None, mass_mg=None, remaining_mg=None, storage="",
    )  # fmt: skip
    assert "Spore dust" in page(hand, "lot", lot.code)
    fields = {
        "clean-cleaned_on": "2026-06-10", "clean-mass_mg": "85.5", "clean-storage": "packet, 4 °C",
    }  # fmt: skip
    answer = do(hand, lot, "clean", **fields)
    assert answer.status_code == 302
    lot.refresh_from_db()
    assert (lot.cleaned_on, lot.mass_mg, lot.storage) == (TODAY, 85.5, "packet, 4 °C")
    words = page(hand, "lot", lot.code)
    assert "dried for 2 days only" in words
    assert "It is clean and stored" not in words
    again = do(hand, lot, "clean", **fields)
    assert again.status_code == 422
    assert "cleaned already" in again.content.decode()


def test_a_wrong_weight_comes_back_with_what_was_typed(hand):
    lot = SporeLotFactory(cleaned_on=None, mass_mg=None)
    fields = {"clean-cleaned_on": "2026-06-10", "clean-mass_mg": "-3", "clean-storage": "tin"}
    answer = do(hand, lot, "clean", **fields)
    assert answer.status_code == 422
    assert "A mass is 0 to 1,000,000 mg" in answer.content.decode()
    assert 'value="tin"' in answer.content.decode()


def test_a_sample_is_sown_once_and_counted_once(hand):
    lot = SporeLotFactory()
    record_id = str(uuid.uuid4())
    for _ in range(2):
        do(hand, lot, "sow_test", **{"test-sown_on": "2026-05-20", "test-record_id": record_id})
    test = GerminationTest.objects.get()
    assert "Count the sample sown Wed 20 May 2026" in page(hand, "lot", lot.code)
    prefix = f"count-{test.pk}"
    fields = {
        "test": str(test.pk), f"{prefix}-counted_on": "2026-06-10", f"{prefix}-counted": "148",
        f"{prefix}-germinated": "15",
    }  # fmt: skip
    wrong = do(hand, lot, "count", **(fields | {f"{prefix}-germinated": "149"}))
    assert wrong.status_code == 422
    assert "149 of 148 cannot have come up" in wrong.content.decode()
    assert do(hand, lot, "count", **fields).status_code == 302
    words = page(hand, "lot", lot.code)
    # Newcombe (1998), Stat. Med. 17, 857-872, table I, method 3: 6.24 % to 16.05 %.
    assert "6 % and 16 %" in words
    assert "15 of 148" in words
    again = do(hand, lot, "count", **fields)
    assert again.status_code == 422
    assert "counted already" in again.content.decode()


def test_a_lot_is_mended_and_ended_and_keeps_its_page(hand):
    lot = SporeLotFactory()
    fields = {"mend-remaining_mg": "40", "mend-sow_by": "2027-01-01", "mend-storage": "tin"}
    assert do(hand, lot, "mend", **fields).status_code == 302
    lot.refresh_from_db()
    assert (lot.remaining_mg, lot.storage, lot.collected_by) == (40, "tin", "")
    assert do(hand, lot, "end", **{"end-on": "2026-06-10", "end-why": "used up"}).status_code == 302
    words = page(hand, "lot", lot.code)
    assert "Ended on Wed 10 Jun 2026" in words
    assert "ended, used up" in words
    late = do(hand, lot, "end", **{"end-on": "2026-06-10", "end-why": "again"})
    assert late.status_code == 422


def test_a_deed_that_the_page_does_not_know_is_not_found(hand):
    lot = SporeLotFactory()
    assert do(hand, lot, "burn").status_code == 404
    assert do(hand, lot, "count", test=str(uuid.uuid4())).status_code == 404
    assert do(hand, lot, "count", test="x").status_code == 404


def test_what_was_collected_leads_to_what_it_became(hand):
    batch = BatchFactory(sown_mg=4.5)
    words = page(hand, "lot", batch.spore_lot.code)
    assert reverse("batches:batch", args=[batch.code]) in words
    assert "4.5 mg" in words
    assert reverse("batches:stock-plant", args=[batch.spore_lot.source.code]) in words


def test_days_are_the_nurserys_own(hand_person, monkeypatch):
    # 23:30 UTC is half past midnight of the next day in Dublin.
    monkeypatch.setattr(clock, "now", lambda: datetime(2026, 6, 10, 23, 30, tzinfo=UTC))
    hand = Client()
    hand.force_login(hand_person)
    form = lot_form(SourceFactory(), collected_on="2026-06-11")
    assert hand.post(reverse("batches:lot-new"), form).status_code == 302
    assert SporeLot.objects.get().collected_on == NOW.date() + timedelta(days=1)
