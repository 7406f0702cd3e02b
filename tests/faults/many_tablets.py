"""How do ten tablets go round thirty trays each, at the same time, for a while?

The test asks whether anything was lost; `python -m tests.bench tablets` says how long they waited.
"""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field
from itertools import cycle

from tests.faults.bench_tablets import BenchTablet
from tests.running_nursery import RunningNursery

TABLETS, TRAYS_EACH = 10, 30


@dataclass(slots=True)
class Round:
    """What came of a round: seconds each answer took, and every answer that was none."""

    seconds: list[float] = field(default_factory=list)
    refusals: list[str] = field(default_factory=list)

    def waited_at_most(self, share: float) -> float:
        """Give the seconds within which this share of all answers came."""
        ordered = sorted(self.seconds)
        return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def go_round(
    nursery: RunningNursery,
    tablets: list[BenchTablet],
    trays: list[str],
    *,
    seconds: float,
    pause: float,
) -> Round:
    """Let all tablets log looks for a while, each at its own trays, `pause` between two looks."""
    found = Round()
    until = time.monotonic() + seconds
    share = len(trays) // len(tablets)

    def work(number: int, tablet: BenchTablet) -> None:
        time.sleep(pause * number / len(tablets))  # they do not walk in step
        for tray in cycle(trays[number * share : (number + 1) * share]):
            if time.monotonic() > until:
                return
            tablet.look(tray)
            began = time.monotonic()
            try:
                status, answer = tablet.send(nursery.url)
            except OSError as error:
                found.refusals.append(repr(error))
            else:
                if status != 200:
                    found.refusals.append(f"{status} {answer}")
            took = time.monotonic() - began
            found.seconds.append(took)
            time.sleep(max(0.0, pause - took))

    threads = [
        threading.Thread(target=work, args=(number, tablet))
        for number, tablet in enumerate(tablets)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(seconds + 60)
    return found
