"""Is everything that a tablet was told is stored still there after the server was killed?

Killing a process is no power cut: what the system took over is still written. That the disk is
asked before each answer is shown by its own test, in test_synced_before_answering.py.
"""

from __future__ import annotations

import random
import threading
import time
from collections.abc import Iterator
from contextlib import suppress

import pytest

from tests.faults.bench_tablets import (
    BenchTablet,
    check_what_is_stored,
    make_tablets,
)
from tests.faults.conftest import Tell, Turns
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

TABLETS = 6
MOST_WAITING = 6


class Shift:
    """Tablets at work in threads, whatever happens to the server, until they are told to stop."""

    def __init__(self, nursery: RunningNursery, tablets: list[BenchTablet], trays: list[str]):
        self.nursery, self.tablets, self.trays = nursery, tablets, trays
        self.over = threading.Event()
        self.without_answer = self.answered = 0
        self.threads = [threading.Thread(target=self._work, args=(one,)) for one in tablets]

    def __enter__(self) -> Shift:
        for thread in self.threads:
            thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()
        for thread in self.threads:
            thread.join(60)

    def wait_for_an_answer(self, *, seconds: float = 20) -> None:
        """Wait until one more tablet was answered: the server is in the midst of its work."""
        before, until = self.answered, time.monotonic() + seconds
        while self.answered == before and time.monotonic() < until:
            time.sleep(0.005)

    def _work(self, tablet: BenchTablet) -> None:
        chance = random.Random(tablet.secret)
        while not self.over.is_set():
            for _ in range(chance.randrange(1, 6)):
                if len(tablet.waiting) < MOST_WAITING:
                    tablet.look(chance.choice(self.trays))
            try:
                tablet.send(self.nursery.url)
                self.answered += 1
            except OSError:
                self.without_answer += 1
                time.sleep(0.05)


@pytest.fixture
def killed(data_folder: RunningNursery) -> Iterator[RunningNursery]:
    """A nursery whose server is not left running, however its test ends."""
    yield data_folder
    data_folder.kill()


def test_nothing_promised_is_lost_and_nothing_is_there_twice_however_often_it_is_killed(
    killed: RunningNursery, turns: Turns, tell: Tell
) -> None:
    tablets, trays = make_tablets(killed, tablets=TABLETS, trays=12)
    chance = random.Random(25)
    held: list[int] = []
    killed.start()
    with Shift(killed, tablets, trays) as shift:
        for _ in turns(25, 300):
            shift.wait_for_an_answer()
            time.sleep(chance.uniform(0, 0.4))
            killed.kill()
            held.append(check_what_is_stored(killed.data, tablets))
            killed.start()
    for tablet in tablets:  # the last ones, in peace
        with suppress(OSError):
            tablet.send(killed.url)
    killed.stop()
    stored = check_what_is_stored(killed.data, tablets)
    answers = [answer for tablet in tablets for answer in tablet.answers]
    tell(
        f"{len(held)} kills, {stored} looks, {answers.count('duplicate')} sent again and known, "
        f"{shift.without_answer} without an answer"
    )
    assert stored == sum(tablet.made - len(tablet.waiting) for tablet in tablets)
    assert set(answers) <= {"created", "merged", "duplicate"}
    # The kills fell among the work: between two of them something was stored, and some answers
    # were lost on the way.
    assert len(set(held)) > len(held) / 2
    assert shift.without_answer >= len(held)
