"""Is a round sheet entered row by row, under its own day and the name written on it?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from batches.models import TrayCheck
from batches.services import standing
from tests.factories import NOW, TODAY, TrayFactory, at
from tests.views.pages import filled, page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]
DAY = TODAY - timedelta(days=2)
SHEET = {"on": f"{DAY:%Y-%m-%d}", "by": "Wilf Arden"}


@pytest.fixture
def tray():
    one = TrayFactory(counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


def enter(client, tray, sheet=SHEET, **boxes):
    address = reverse("batches:round-sheet-enter")
    query = "&".join(f"{name}={value}" for name, value in (sheet | {"code": tray.code}).items())
    return client.post(f"{address}?{query}", filled(**boxes))


def test_a_sheet_begins_with_its_day_and_name(hand):
    assert "Day of the sheet" in page(hand, "round-sheet-enter")
    text = page(hand, "round-sheet-enter", **SHEET)
    assert "looks by Wilf Arden" in text
    assert 'name="code"' in text
    ahead = {"on": f"{TODAY + timedelta(days=1):%Y-%m-%d}", "by": "Wilf"}
    assert "lies in the future" in page(hand, "round-sheet-enter", **ahead)


def test_an_empty_row_is_nothing_new_and_the_next_code_is_asked_for(hand, tray):
    answer = enter(hand, tray)
    assert answer.status_code == 302
    assert "code=" not in answer["Location"]
    assert "on=" in answer["Location"]
    look = TrayCheck.objects.get()
    assert (look.by, look.source, look.seen_at) == ("Wilf Arden", "paper", at(DAY, 12))
    assert (look.signs, look.count, str(look.person)) == ("", None, "Bryn Hale")


def test_a_row_with_boxes_is_a_look_with_what_they_say(hand, tray):
    enter(hand, tray, stage_seen="gametophyte", signs="mould", count=60, about="on", note="by hand")
    look = TrayCheck.objects.get()
    assert (look.stage_seen, look.signs, look.count, look.about, look.note) == (
        "gametophyte", "mould", 60, True, "by hand",
    )  # fmt: skip


def test_a_row_sent_twice_is_stored_once(hand, tray):
    boxes = filled(signs="dry")
    for _ in range(2):
        assert enter(hand, tray, **boxes).status_code == 302
    assert TrayCheck.objects.count() == 1


def test_a_row_of_today_is_not_in_the_future_and_once_however_often_sent(hand, tray, later_clock):
    boxes = filled(signs="dry")
    for _ in range(2):
        answer = enter(hand, tray, {"on": f"{TODAY:%Y-%m-%d}", "by": "Wilf"}, **boxes)
        assert answer.status_code == 302
        later_clock()
    assert TrayCheck.objects.get().seen_at == NOW


def test_a_whole_address_from_a_scanner_opens_the_row_and_a_strange_code_is_refused(hand, tray):
    text = page(hand, "round-sheet-enter", **SHEET, code=f"https://ferns.home.arpa/t/{tray.code}")
    assert f'<span class="code">{tray.code}</span>' in text
    assert "NOTHING" in page(hand, "round-sheet-enter", **SHEET, code="NOTHING")


def test_a_day_before_the_tray_was_started_is_refused_and_what_was_typed_kept(hand, tray):
    answer = enter(hand, tray, {"on": "2020-01-01", "by": "Wilf"}, note="kept words")
    assert answer.status_code == 422
    assert "kept words" in answer.content.decode()
    assert not TrayCheck.objects.exists()
