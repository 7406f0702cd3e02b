"""How do ten tablets go round thirty trays each, at the same time, for a while?

Each sends a photo of the first tray at every turn of its round, as large as a tablet sends them.

The test asks whether anything was lost; `python -m tests.bench tablets` says how long they waited.
"""

from __future__ import annotations

import io
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from itertools import cycle

from PIL import Image

from tests.faults.bench_tablets import BenchTablet
from tests.running_nursery import RunningNursery

TABLETS, TRAYS_EACH = 10, 30


def photo_of_a_tray() -> bytes:
    """Give a picture of 1,600 px, as a tablet scales it."""
    written = io.BytesIO()
    Image.effect_noise((1600, 1200), 40).convert("RGB").save(written, "JPEG", quality=80)
    return written.getvalue()


@dataclass(slots=True)
class Round:
    """What came of a round: seconds each answer took, and every answer that was none."""

    seconds: list[float] = field(default_factory=list)
    refusals: list[str] = field(default_factory=list)

    def ask(self, ask: Callable[[], tuple[int, object]]) -> None:
        """Ask the server something, and note an answer that is none."""
        try:
            status, answer = ask()
        except OSError as error:
            self.refusals.append(repr(error))
        else:
            if status != 200:
                self.refusals.append(f"{status} {answer}")

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
    photos: bool = True,
) -> Round:
    """Let all tablets log looks for a while, each at its own trays, `pause` between two looks."""
    found = Round()
    picture = photo_of_a_tray()
    until = time.monotonic() + seconds
    share = len(trays) // len(tablets)

    def work(number: int, tablet: BenchTablet) -> None:
        time.sleep(pause * number / len(tablets))  # they do not walk in step
        own = trays[number * share : (number + 1) * share]
        for tray in cycle(own):
            if time.monotonic() > until:
                return
            look = tablet.look(tray)
            began = time.monotonic()
            found.ask(partial(tablet.send, nursery.url))
            took = time.monotonic() - began
            found.seconds.append(took)
            if photos and tray == own[0]:
                found.ask(partial(tablet.send_photo, nursery.url, look["id"], picture))
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
