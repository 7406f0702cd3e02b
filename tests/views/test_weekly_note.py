"""Is the weekly note readable on the page, on paper and as text?"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from django.urls import reverse

from batches.services.own_settings import set_own
from tests.factories import TODAY, PlantMovementFactory, TrayFactory
from tests.labels.paper import PRINTER, words
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
MONDAY = TODAY - timedelta(days=TODAY.weekday())


@pytest.fixture
def lost(db):
    """Nine plants of a tray, lost to mould this week."""
    tray = TrayFactory(counted=60)
    return PlantMovementFactory(tray=tray, on=MONDAY, kind="loss", quantity=9, cause="mould")


def test_the_page_says_what_was_lost_and_why_and_leads_to_the_week_before(hand, lost):
    text = page(hand, "weekly-note")
    assert "9 plants" in text
    assert "mould" in text
    year, week, _ = (MONDAY - timedelta(days=7)).isocalendar()
    before = f"{year}-W{week:02d}"
    assert f"?week={before}" in text
    assert "The week after" not in text
    earlier = hand.get(reverse("batches:weekly-note"), {"week": before}).content.decode()
    assert "No loss was noted" in earlier
    assert "The week after" in earlier


def test_a_week_that_is_none_is_answered_in_words(hand):
    answer = hand.get(reverse("batches:weekly-note"), {"week": "1999"}, follow=True)
    assert "That is no week" in answer.content.decode()
    for name in ("weekly-print", "weekly-text"):
        assert hand.get(reverse(f"batches:{name}"), {"week": "1999"}).status_code == 302


def test_the_text_can_be_sent_on(hand, lost):
    set_own(name="nursery_name", value="Hollowmere Ferns & Sons")
    answer = hand.get(reverse("batches:weekly-text"))
    assert answer["Content-Type"] == "text/plain; charset=utf-8"
    text = answer.content.decode()
    assert "Hollowmere Ferns & Sons: Weekly note" in text
    assert f"- {lost.tray.batch.taxon.name.text}, mould: 9 plants" in text
    assert "<" not in text


@PRINTER
def test_the_print_holds_the_same(hand, lost, tmp_path: Path):
    answer = hand.get(reverse("batches:weekly-print"))
    assert answer["Content-Type"] == "application/pdf"
    file = tmp_path / "week.pdf"
    file.write_bytes(answer.content)
    assert "9 plants" in words(file)
    assert "Lost, and why" in words(file)
