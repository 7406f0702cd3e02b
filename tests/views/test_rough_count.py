"""Does a rough count stay “about”, and is one way of counting enough?"""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse

from batches.models import PlantMovement, TrayCheck
from batches.services import standing
from tests.factories import NOW, TODAY, PlantMovementFactory, TrayCheckFactory, TrayFactory, at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def cells():
    one = TrayFactory(cells_of_84=True, counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    one.refresh_from_db()
    return one


def send(client, tray, **fields):
    form = {"record_id": str(uuid4()), "revision": tray.revision} | fields
    return client.post(reverse("batches:tray", args=[tray.code]), form)


@pytest.mark.parametrize(
    ("fields", "about"),
    [
        ({"gaps": 9}, 75),
        ({"rows": 6, "per_row": 12}, 72),
        ({"eighths": 7}, 74),
        ({"eighths": 0}, 0),
        ({"count": 70, "about": "on"}, 70),
    ],
)
def test_gaps_rows_and_eighths_are_about_and_never_a_recount(hand, cells, fields, about):
    assert send(hand, cells, **fields).status_code == 302
    look = TrayCheck.objects.get()
    assert (look.count, look.about) == (about, True)
    cells.refresh_from_db()
    assert cells.alive == 80
    assert not PlantMovement.objects.filter(kind="recount").exists()


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"gaps": 85}, "less than or equal to 84"),
        ({"rows": 6}, "belong together"),
        ({"per_row": 6}, "belong together"),
        ({"gaps": 3, "eighths": 7}, "one way only"),
        ({"gaps": 3, "count": 70}, "one way only"),
        ({"eighths": 9}, "less than or equal to 8"),
    ],
)
def test_what_does_not_fit_is_told_and_nothing_is_stored(hand, cells, fields, words):
    answer = send(hand, cells, **fields)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not TrayCheck.objects.exists()


def test_a_mat_without_cells_is_counted_by_rows_alone(hand):
    mat = TrayFactory()
    page = hand.get(reverse("batches:tray", args=[mat.code])).content.decode()
    assert 'name="rows"' in page
    assert 'name="gaps"' not in page


def test_a_loss_lies_between_two_looks(hand, cells):
    for days in (7, 0):
        TrayCheckFactory(tray=cells, seen_at=at(TODAY - timedelta(days=days), 8))
    TrayCheckFactory(tray=cells, seen_at=at(TODAY - timedelta(days=2), 8), glance=True)
    PlantMovementFactory(tray=cells, on=TODAY, kind="loss", quantity=5, cause="rot")
    page = hand.get(reverse("batches:tray", args=[cells.code])).content.decode()
    assert "5 plants lost: rot, between 3 and 10 Jun 2026." in page
