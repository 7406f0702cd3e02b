"""Does a mock alarm time itself and keep what was found?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import AlarmDrill, TrayHold
from batches.views import clock
from tests.factories import NOW, TODAY, PlantMovementFactory, TrayFactory
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def pots():
    tray = TrayFactory(carrier=True, counted=40)
    PlantMovementFactory(
        tray=tray, kind="dispatch", quantity=4, recipient="Kiln Yard", on=TODAY - timedelta(days=9)
    )
    type(tray).objects.filter(pk=tray.pk).update(alive=36)
    return tray


def test_a_drill_from_something_sent_runs_until_it_is_stopped(office, pots, monkeypatch):
    answer = office.post(reverse("batches:drills"), {"code": ""})
    drill = AlarmDrill.objects.get()
    told = office.get(answer["Location"]).content.decode()
    assert "the clock runs" in told
    assert pots.code in told
    assert f"its kin is lot {pots.batch.spore_lot.code}" in told
    assert "4 sent to Kiln Yard" in told
    assert (drill.standing, drill.recipients, drill.sent, drill.adds_up) == (1, 1, 4, True)
    monkeypatch.setattr(clock, "now", lambda: NOW + timedelta(minutes=23, seconds=10))
    office.post(answer["Location"], {"tray": pots.code, "note": "Label was under a leaf."})
    drill.refresh_from_db()
    assert (drill.found, drill.missing) == (1, "")
    assert drill.finished_at is not None
    assert drill.finished_at - drill.begun_at == timedelta(minutes=23, seconds=10)
    told = office.get(answer["Location"]).content.decode()
    assert "23 min 10 s" in told
    assert "Label was under a leaf." in told
    assert "1 of 1" in page(office, "drills")
    assert not TrayHold.objects.exists()


def test_what_was_not_found_is_named_and_a_stopped_clock_stays_stopped(office, pots):
    answer = office.post(reverse("batches:drills"), {"code": pots.batch.code})
    office.post(answer["Location"], {})
    drill = AlarmDrill.objects.get()
    assert (drill.found, drill.missing) == (0, pots.code)
    answer = office.post(answer["Location"], {"tray": pots.code}, follow=True)
    assert "stopped already" in answer.content.decode()
    drill.refresh_from_db()
    assert drill.found == 0


def test_without_anything_sent_a_code_is_asked_for(office):
    answer = office.post(reverse("batches:drills"), {"code": ""})
    assert answer.status_code == 422
    assert "Name a code" in answer.content.decode()
    answer = office.post(reverse("batches:drills"), {"code": "NOTHING"})
    assert answer.status_code == 422
    assert not AlarmDrill.objects.exists()
