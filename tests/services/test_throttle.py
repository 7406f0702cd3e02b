"""How long does guessing take?"""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from batches.models import FailedSignIn
from batches.services import throttle

pytestmark = pytest.mark.django_db


def wait_after(tries: int, now: datetime, *, device: str = "10.0.0.9") -> int:
    for _ in range(tries):
        throttle.note_wrong(name="Bryn Hale", device=device, now=now)
    return throttle.seconds_to_wait(name="Bryn Hale", device="10.0.0.1", now=now)


# 5 wrong → 30 s, doubling to 15 min: common practice, no source.
@pytest.mark.parametrize(
    ("tries", "seconds"),
    [(0, 0), (4, 0), (5, 31), (6, 61), (7, 121), (9, 481), (10, 901), (30, 901)],
)
def test_the_wait_doubles_up_to_a_quarter_of_an_hour(
    tries: int, seconds: int, now: datetime
) -> None:
    assert wait_after(tries, now) == seconds


def test_a_name_is_the_same_in_small_letters(now: datetime) -> None:
    for _ in range(5):
        throttle.note_wrong(name=" BRYN hale", device="10.0.0.9", now=now)
    assert throttle.seconds_to_wait(name="Bryn Hale", device="", now=now) > 0


def test_a_device_shared_by_several_people_is_allowed_more(now: datetime) -> None:
    for number in range(19):
        throttle.note_wrong(name=f"Person {number}", device="10.0.0.9", now=now)
    assert throttle.seconds_to_wait(name="Una Tarn", device="10.0.0.9", now=now) == 0
    throttle.note_wrong(name="Person 20", device="10.0.0.9", now=now)
    assert throttle.seconds_to_wait(name="Una Tarn", device="10.0.0.9", now=now) == 31


def test_a_right_one_and_an_hour_are_forgotten(now: datetime) -> None:
    wait_after(6, now)
    throttle.forget(name="Bryn Hale")
    assert throttle.seconds_to_wait(name="Bryn Hale", device="", now=now) == 0
    wait_after(6, now)
    later = now + timedelta(minutes=61)
    assert throttle.seconds_to_wait(name="Bryn Hale", device="", now=later) == 0
    throttle.note_wrong(name="Una Tarn", device="", now=later)
    assert FailedSignIn.objects.count() == 2


def test_the_wait_is_told_in_seconds_and_minutes(now: datetime) -> None:
    assert "Wait 31 seconds" in throttle.WaitFirst(seconds=31).message
    assert "Wait 8 minutes" in throttle.WaitFirst(seconds=481).message
