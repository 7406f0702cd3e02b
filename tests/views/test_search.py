"""Does the search box open what was scanned and find any fern's name?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.factories import TaxonFactory, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_a_scanned_code_opens_its_thing(hand):
    one = TrayFactory()
    answer = hand.get("/search/", {"q": f"https://nursery.test/t/{one.code}"})
    assert answer["Location"] == reverse("batches:tray", args=[one.code])
    answer = hand.get("/search/", {"q": one.code.lower()})
    assert answer["Location"] == reverse("batches:tray", args=[one.code])


def test_any_part_of_any_name_finds_the_fern(hand):
    TaxonFactory(code="OSMREG", genus="Osmunda", species="regalis", common_name="royal fern")
    for words in ("regal", "royal", "osmunda reg", "OSMR"):
        assert "Osmunda regalis" in hand.get("/search/", {"q": words}).content.decode()


def test_a_mistyped_code_is_refused_and_nothing_else_opens(hand):
    page = hand.get("/search/", {"q": "26W14-073-05-B"}).content.decode()
    assert "check" in page


def test_nothing_is_found_in_words(hand):
    assert "0 ferns" not in hand.get("/search/", {"q": "zzzz"}).content.decode()
    assert hand.get("/search/").status_code == 200
