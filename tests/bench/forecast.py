"""How often do the forecast's bands hold, and how long does a forecast take?"""

from __future__ import annotations

import time

import numpy as np

from batches.core.forecast import forecast
from batches.core.raising import TrayNow
from batches.core.stages import Stage
from tests.bench.figure import Figure
from tests.simulate.becoming_ready import judged_bands, learned, some_truth

NURSERIES = 600
WEEKS = (13, 26, 52)


def figures(nurseries: int = NURSERIES) -> list[Figure]:
    """Run the nurseries; about a quarter of a minute with 600."""
    held: dict[int, list[bool]] = {week: [] for week in WEEKS}
    below: list[bool] = []
    above: list[bool] = []
    for seed in range(nurseries):
        found, came = judged_bands(seed)
        bands = found.cumulative()
        for week in WEEKS:
            band, pots = bands[week - 1], came[week - 1]
            if band.high == 0 and pots == 0:
                continue  # nothing was promised and nothing came: no band at all
            held[week].append(band.low <= pots <= band.high)
            below.append(pots < band.low)
            above.append(pots > band.high)
    every = [one for some in held.values() for one in some]
    share = float(np.mean(every))
    return [
        Figure(
            "80 % bands that hold, 30-tray history", share, "share", None, None, "0.72 to 0.88",
            0.72 <= share <= 0.88,
        ),
        *(
            Figure(
                f"80 % bands that hold by week {week}", float(np.mean(some)), "share", None, None,
                "0.70 to 0.92", 0.70 <= float(np.mean(some)) <= 0.92,
            )
            for week, some in held.items()
        ),
        Figure(
            "bands missed below beside above", float(np.mean(below)), "share",
            float(np.mean(above)), float(np.mean(below)) / max(float(np.mean(above)), 1e-9),
            "neither above 0.20", max(float(np.mean(below)), float(np.mean(above))) <= 0.20,
        ),
        _speed(),
    ]  # fmt: skip


def _speed() -> Figure:
    rng = np.random.default_rng(1)
    model = learned(rng, some_truth(rng), trays=30, draws=2_000)
    stages = (Stage.SOWN, Stage.GAMETOPHYTE, Stage.PRICKED_OUT, Stage.POTTED_UP)
    trays = [
        TrayNow(
            stage=stages[n % 4], age=float(n % 60), age_now=float(n % 60),
            plants=60 if n % 4 > 1 else None,
        )
        for n in range(5_000)
    ]  # fmt: skip
    took = float("inf")
    for _ in range(2):
        begun = time.perf_counter()
        forecast({"fern": [(model, trays)]}, weeks=52, seed=1, draws=2_000)
        took = min(took, time.perf_counter() - begun)
    return Figure("forecast of 5,000 trays × 2,000 draws", took, "s", None, None, "≤ 5", took <= 5)
