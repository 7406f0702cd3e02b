"""Do the small sums answer in words, with their cautions, and refuse what makes no sum?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.forms.reckoners import RECKONERS
from tests.views.pages import page

pytestmark = pytest.mark.django_db

ASKED = {
    "suspension": (
        {"counts": "20 30, 25 28", "dilution": "1", "ml_counted": "0.0001", "want": "5000",
         "ml": "200"},
        ("257,500 spores a mL", "3.88 mL"),
    ),
    "density": (
        {"trays": "2", "cm2": "693", "per_cm2": "15", "germination": "60", "strength": "5000"},
        ("17,325 spores", "34,650 spores", "3.465 mL"),
    ),
    "mix": (
        {"containers": "500", "ml_each": "500", "recipe": "Peat:4 perlite:1", "loss": "15"},
        ("250 L fill them", "294 L", "235 L", "58.8 L"),
    ),
    "feed": (
        {"nitrogen": "20", "mg_n": "120", "litres": "10", "injector": "100"},
        ("0.6 g a litre", "6 g in 10 L", "60 g a litre", "120 mg nitrogen"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", RECKONERS)
def test_a_sum_is_answered_as_worked_by_hand(hand, what):
    given, words = ASKED[what]
    text = page(hand, "reckon", what, reckon="yes", **given)
    for word in words:
        assert word in text
    assert "nothing is stored" in text


@pytest.mark.parametrize(
    ("what", "wrong", "words"),
    [
        ("suspension", {"counts": "twenty"}, "whole numbers"),
        ("suspension", {"counts": "1 0 1", "want": "5000000"}, "thicker"),
        ("suspension", {"counts": "0 0"}, "above 0"),
        ("density", {"germination": "0"}, "Germination lies above 0"),
        ("mix", {"recipe": "peat"}, "no part of a recipe"),
        ("feed", {"nitrogen": ""}, "required"),
    ],
)
def test_what_makes_no_sum_is_refused_and_kept(hand, what, wrong, words):
    asked = ASKED[what][0] | wrong | {"reckon": "yes"}
    answer = hand.get(reverse("batches:reckon", args=[what]), asked)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert "That makes" not in answer.content.decode()


def test_what_can_hurt_has_its_caution_and_pages_lead_there(hand):
    assert "respirator" in page(hand, "reckon", "mix")
    assert "label decides" in page(hand, "reckon", "feed")
    assert reverse("batches:reckon", args=["feed"]) in page(hand, "media")
    assert hand.get(reverse("batches:reckon", args=["nonsense"])).status_code == 404
