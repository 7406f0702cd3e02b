"""Nurseries of batches and trays in which trouble has one known cause, or none.

Sizes and rates are the bars' own: 60 batches of four trays, 8 in 100 affected, 60 in 100 with the
guilty mix; batches differ by a beta law with the given correlation of trays in a batch.
"""

from __future__ import annotations

import numpy as np

from batches.core.causes import LookedAtTray

GUILTY = ("medium", "M3")


def outbreak(
    rng: np.random.Generator,
    *,
    guilty: bool,
    correlation: float = 0.1,
    batches: int = 60,
    trays: tuple[int, int] = (4, 4),
    media: int = 8,
    base: float = 0.08,
    hot: float = 0.60,
) -> list[LookedAtTray]:
    """Lay out a nursery; its guilty mix is `GUILTY` where there is one.

    Batches draw lot (and with it the origin), mix, container, person and week at random, so
    that factors overlap as they do; seven in ten trays stand on the batch's own bench.
    """
    rows = []
    for number in range(batches):
        lot = int(rng.integers(25))
        shared = {
            "lot": f"L{lot}",
            "source": f"S{lot // 2}",
            "medium": f"M{rng.integers(media)}",
            "container": f"C{rng.integers(3)}",
            "person": f"P{rng.integers(4)}",
            "week": f"W{rng.integers(20)}",
        }
        home = int(rng.integers(12))
        rate = hot if guilty and shared["medium"] == GUILTY[1] else base
        if correlation > 0:
            spread = (1 - correlation) / correlation
            rate = rng.beta(rate * spread, (1 - rate) * spread)
        for tray in range(int(rng.integers(trays[0], trays[1] + 1))):
            bench = home if rng.random() < 0.7 else int(rng.integers(12))
            rows.append(
                LookedAtTray(
                    tray=f"{number}-{tray}",
                    batch=f"{number}",
                    affected=bool(rng.random() < rate),
                    values=shared | {"bench": f"B{bench}", "house": f"H{bench // 4}"},
                )
            )
    return rows
