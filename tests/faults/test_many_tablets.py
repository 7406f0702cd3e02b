"""Is nothing lost, stored twice or refused when ten tablets send at once?

How long they wait is said and not judged: at once, or as people walk,
`python -m pytest tests/faults/test_many_tablets.py --long --pause 2`.
"""

from __future__ import annotations

import pytest

from tests.faults.bench_tablets import check_what_is_stored, make_tablets, photos_stored
from tests.faults.conftest import Tell, Times
from tests.faults.many_tablets import TABLETS, TRAYS_EACH, go_round
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]


def test_ten_tablets_at_thirty_trays_each_lose_nothing_and_wait_for_no_lock(
    nursery: RunningNursery, times: Times, tell: Tell, pytestconfig: pytest.Config
) -> None:
    tablets, trays = make_tablets(nursery, tablets=TABLETS, trays=TABLETS * TRAYS_EACH)
    pause = float(pytestconfig.getoption("--pause", default=0.05))
    done = go_round(nursery, tablets, trays, seconds=times(15, 60), pause=pause)
    nursery.stop()
    waits = ", ".join(
        f"{share:.0%} within {1_000 * done.waited_at_most(share):.0f} ms"
        for share in (0.5, 0.95, 1.0)
    )
    photos = sum(len(tablet.photos) for tablet in tablets)
    rest = f"a look each {pause:g} s by each tablet"
    tell(f"{len(done.seconds)} posts, {photos} photos, {rest}: {waits}")
    assert done.refusals == []
    assert "locked" not in nursery.said
    assert [tablet.waiting for tablet in tablets] == [[]] * TABLETS
    made = sum(tablet.made for tablet in tablets)
    assert check_what_is_stored(nursery.data, tablets) == made >= TABLETS
    promised = {photo: look for tablet in tablets for photo, look in tablet.photos.items()}
    assert photos_stored(nursery.data) == promised
    assert all(tablet.photos for tablet in tablets)
    assert {answer for tablet in tablets for answer in tablet.answers} <= {"created", "merged"}
