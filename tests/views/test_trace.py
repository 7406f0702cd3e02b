"""Does the trail of a thing stand on one page?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.models import PlantMovement
from tests.factories import NOW, TODAY, BenchFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_back_forward_and_counts_stand_on_one_page(hand):
    mat = TrayFactory()
    cells = TrayFactory(batch=mat.batch, cells_of_84=True, parents=[mat])
    PlantMovement.objects.create(
        tray=mat, on=TODAY, kind="out", quantity=40, arrived=84, to_tray=cells, recorded_at=NOW
    )
    PlantMovement.objects.create(
        tray=cells, on=TODAY, kind="dispatch", quantity=4, recipient="Marsh Lane Stall",
        recorded_at=NOW,
    )  # fmt: skip
    page = hand.get(reverse("batches:trace", args=[mat.batch.spore_lot.code])).content.decode()
    for words in (mat.code, cells.code, "84 plants", "Marsh Lane Stall", mat.batch.code):
        assert words in page


def test_a_code_in_any_case_leads_to_its_trail(hand):
    one = TrayFactory()
    answer = hand.get(reverse("batches:trace", args=[one.code.lower()]))
    assert answer["Location"] == reverse("batches:trace", args=[one.code])


def test_what_has_no_trail_says_so(hand):
    for code in (BenchFactory().code, "NOTHING"):
        answer = hand.get(reverse("batches:trace", args=[code]))
        assert answer.status_code == 404
        assert "No trail" in answer.content.decode()


def test_without_a_code_it_is_asked_for(hand):
    assert "Scan or type" in hand.get(reverse("batches:trace-start")).content.decode()
    answer = hand.get(reverse("batches:trace-start"), {"code": "T1"})
    assert answer["Location"] == reverse("batches:trace", args=["T1"])
