"""Is nothing lost, stored twice or refused when ten tablets send at once?"""

from __future__ import annotations

import pytest

from tests.faults.bench_tablets import check_what_is_stored, make_tablets, photos_stored
from tests.faults.conftest import Tell, Times
from tests.faults.many_tablets import TABLETS, TRAYS_EACH, go_round
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]


def test_ten_tablets_at_thirty_trays_each_lose_nothing_and_wait_for_no_lock(
    nursery: RunningNursery, times: Times, tell: Tell
) -> None:
    tablets, trays = make_tablets(nursery, tablets=TABLETS, trays=TABLETS * TRAYS_EACH)
    done = go_round(nursery, tablets, trays, seconds=times(15, 60), pause=0.05)
    nursery.stop()
    slow = done.waited_at_most(0.95)
    photos = sum(len(tablet.photos) for tablet in tablets)
    tell(f"{len(done.seconds)} posts, {photos} photos, 95 posts in 100 within {slow:.2f} s")
    assert done.refusals == []
    assert "locked" not in nursery.said
    assert [tablet.waiting for tablet in tablets] == [[]] * TABLETS
    made = sum(tablet.made for tablet in tablets)
    assert check_what_is_stored(nursery.data, tablets) == made >= TABLETS
    promised = {photo: look for tablet in tablets for photo, look in tablet.photos.items()}
    assert photos_stored(nursery.data) == promised
    assert all(tablet.photos for tablet in tablets)
    assert {answer for tablet in tablets for answer in tablet.answers} <= {"created", "merged"}
