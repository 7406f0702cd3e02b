"""How near is the green share of a photo to the true one, and how long does it take?"""

from __future__ import annotations

import time

import numpy as np

from batches.core.cover import green_cover, otsu_threshold
from tests.bench.figure import Figure
from tests.simulate.photos import SCENES, photo

SHARES = (0.0, 0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 1.0)
SEEDS = 4


def figures(seeds: int = SEEDS) -> list[Figure]:
    """Take and read the photographs of every scene; about a minute with four seeds."""
    away: list[float] = []
    plain: list[float] = []
    bare: list[float] = []
    falls = 0
    for scene in SCENES:
        for seed in range(seeds):
            last = -1.0
            for share in SHARES:
                pixels = photo(scene, share, seed=seed)
                found = green_cover(pixels).share
                away.append(abs(found - share))
                plain.append(abs(_plain_otsu(pixels) - share))
                falls += found < last
                last = found
                if share == 0.0:
                    bare.append(found)
    worst, mean, floor = max(bare), float(np.mean(away)), float(np.mean(plain))
    begun = time.perf_counter()
    green_cover(photo(SCENES[0], 0.4, seed=1, size=(600, 800)))
    took = time.perf_counter() - begun
    return [
        Figure("mean error of the green share", mean, "share", floor, floor / mean, "≤ 0.04",
               mean <= 0.04),
        Figure("green share of bare peat, worst", worst, "share", None, None, "≤ 0.01",
               worst <= 0.01),
        Figure("times that more green read as less", float(falls), "times", None, None, "0",
               falls == 0),
        Figure("green share of a photo of 800 × 600", took, "s", None, None, "≤ 2", took <= 2),
    ]  # fmt: skip


def _plain_otsu(pixels: np.ndarray) -> float:
    """Return the share above Otsu's cut of excess green: the floor, which finds green anywhere."""
    colour = pixels.astype(float)
    total = np.maximum(colour.sum(axis=2), 1.0)
    index = (3 * colour[..., 1] - total) / total
    return float((index > otsu_threshold(index)).mean())
