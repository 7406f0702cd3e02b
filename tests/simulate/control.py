"""What shows in an unsown tray that stands beside the sown ones?"""

from __future__ import annotations

from batches.core.stages import Stage
from tests.simulate.grower import Grower
from tests.simulate.stock import Tray


def live_control(grower: Grower, tray: Tray, ends: int | None) -> None:
    """Look at an unsown tray until the sown ones are gone; now and then something strays in."""
    day = tray.started
    stray = grower.happens(0.2)
    while True:
        day = grower.next_look(tray, day, Stage.SOWN)
        if day > grower.until or (ends is not None and day > ends):
            break
        signs = ("rogue_fern",) if stray and day - tray.started > 120 else ()
        stray = stray and not signs
        grower.look(tray, day, stage=Stage.SOWN, signs=signs)
    tray.cover = "closed"
    if ends is not None and ends <= grower.last_deed:
        tray.finish(ends, "cleared")
