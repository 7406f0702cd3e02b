"""Does a tray's green share stand under its line of time, on the same axis?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.models import CheckPhoto
from batches.services.green_line import green_line
from batches.services.timeline import time_line
from batches.services.tray_page import story_of
from tests.factories import NOW, TODAY, BatchFactory, TrayCheckFactory, TrayFactory, at
from tests.views.pages import page

pytestmark = pytest.mark.django_db


def tray_of(days: int = 100):
    start = TODAY - timedelta(days=days)
    return TrayFactory(batch=BatchFactory(started_on=start), started_on=start, stage_seen_on=start)


def photo(tray, *, ago: int, share: float | None, comparable: bool = True, light=None):
    check = TrayCheckFactory(tray=tray, seen_at=at(TODAY - timedelta(days=ago)))
    CheckPhoto.objects.create(
        check_row=check, file=f"{check.pk}.jpg", sha256="0" * 64, width=800, height=600,
        green_share=share, green_second=share, comparable=comparable, light=light,
        recorded_at=NOW,
    )  # fmt: skip
    return check


def test_without_a_reckoned_photo_there_is_no_line():
    tray = tray_of()
    photo(tray, ago=5, share=None)
    assert green_line(tray=tray, today=TODAY) is None


def test_points_stand_under_the_looks_of_their_day():
    tray = tray_of()
    for ago, share in ((40, 0.1), (20, 0.35), (0, 0.8)):
        photo(tray, ago=ago, share=share)
    found = green_line(tray=tray, today=TODAY)
    assert found is not None
    looks = time_line(tray=tray, story=story_of(tray=tray, today=TODAY), today=TODAY).looks
    assert sorted(point.x for point in found.points) == sorted(look.x for look in looks)
    assert [point.y for point in found.points] == [106, 81, 36]
    assert len(found.path.split()) == 3
    assert "from 10 %" in found.sentence
    assert "to 80 %" in found.sentence
    assert "3 photos" in found.sentence


def test_a_photo_in_other_light_is_shown_and_not_joined():
    tray = tray_of()
    photo(tray, ago=40, share=0.1)
    photo(tray, ago=20, share=0.9, comparable=False)
    found = green_line(tray=tray, today=TODAY)
    assert found is not None
    assert (len(found.points), found.path) == (2, "")
    assert "10 %" in found.sentence
    other = tray_of()
    photo(other, ago=1, share=0.5, comparable=False)
    alone = green_line(tray=other, today=TODAY)
    assert alone is not None
    assert "too strange a colour" in alone.sentence


def test_a_photo_under_a_lamp_is_told_among_those_by_day(fixed_clock, hand):
    tray = tray_of()
    day = {"bare": [84, 66, 50], "rim": [84, 66, 50], "shape": 1.33}
    lamp = day | {"bare": [110, 66, 30], "rim": [110, 66, 30]}
    for ago, share, light in (
        (60, 0.1, day), (40, 0.7, lamp), (20, 0.3, day),
        (10, 0.4, day | {"shape": 1.0}), (0, 0.5, None),
    ):  # fmt: skip
        photo(tray, ago=ago, share=share, light=light)

    found = green_line(tray=tray, today=TODAY)

    assert found is not None
    assert [point.comparable for point in found.points] == [True, False, True, False, True]
    assert len(found.path.split()) == 3
    assert "over 3 photos" in found.sentence
    text = page(hand, "tray", tray.code)
    assert "not comparable: the light differs" in text
    assert "not comparable: it shows more" in text


@pytest.mark.usefixtures("fixed_clock")
def test_the_page_says_that_moss_is_green_too(hand):
    tray = tray_of()
    photo(tray, ago=3, share=0.42)
    text = page(hand, "tray", tray.code)
    assert "42 %" in text
    assert "Moss, liverwort and algae are green too" in text
