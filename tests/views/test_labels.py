"""Are labels made from the page, and does that make a tray labelled?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import LabelPrint
from tests.factories import TODAY, LaidOutTrayFactory, SporeLotFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def wanted(codes, **more):
    return {"codes": " ".join(codes), "kind": "tray", "stock": "a4-24", "copies": 1,
            "start_at": 1} | more  # fmt: skip


def test_a_batchs_trays_stand_in_the_form(hand):
    one = TrayFactory()
    waiting = LaidOutTrayFactory(batch=one.batch)
    page = hand.get(reverse("batches:labels"), {"batch": one.batch.code}).content.decode()
    assert one.code in page
    assert waiting.code in page


def test_a_pdf_comes_back_and_trays_are_labelled_from_today_on(hand):
    one = TrayFactory(label_printed_on=None)
    waiting = LaidOutTrayFactory(batch=one.batch)
    answer = hand.post(reverse("batches:labels"), wanted([one.code, waiting.code]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    one.refresh_from_db()
    waiting.refresh_from_db()
    assert (one.label_printed_on, waiting.label_printed_on) == (TODAY, TODAY)
    (log,) = LabelPrint.objects.all()
    assert (log.labels, log.by, log.stock) == (2, "Bryn Hale", "a4-24")


def test_pot_and_packet_labels(hand):
    one, lot = TrayFactory(carrier=True, label_printed_on=None), SporeLotFactory()
    for kind, code in (("pot", one.code), ("lot", lot.code)):
        answer = hand.post(reverse("batches:labels"), wanted([code], kind=kind, copies=3))
        assert answer.content.startswith(b"%PDF")
    one.refresh_from_db()
    assert one.label_printed_on is None


def test_the_page_to_print_needs_no_pdf(hand):
    one = TrayFactory()
    answer = hand.post(reverse("batches:labels"), wanted([one.code], page="yes"))
    assert one.code in answer.content.decode()
    assert "sown" in answer.content.decode()


@pytest.mark.parametrize(
    ("codes", "more", "words"),
    [
        (["NOTHING"], {}, "no tray&#x27;s code"),
        ([], {}, "required"),
        (["NOTHING"], {"kind": "lot"}, "no lot&#x27;s code"),
        (["T"], {"copies": 0}, "greater than or equal to 1"),
    ],
)
def test_what_cannot_be_printed_is_told_in_words(hand, codes, more, words):
    answer = hand.post(reverse("batches:labels"), wanted(codes, **more))
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_a_label_to_start_at_that_the_sheet_has_not(hand):
    answer = hand.post(reverse("batches:labels"), wanted([TrayFactory().code], start_at=25))
    assert answer.status_code == 422
    assert "no label 25" in answer.content.decode()
