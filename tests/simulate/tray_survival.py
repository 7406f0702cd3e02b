"""Trays whose plants live or die together, with a known rate and correlation within trays."""

from __future__ import annotations

import numpy as np

from batches.core.survival import TrayPassage


def passages(
    rng: np.random.Generator,
    *,
    rate: float,
    correlation: float,
    trays: int,
    plants: tuple[int, int] = (40, 41),
) -> list[TrayPassage]:
    """Return beta-binomial trays; `plants` is the range of plants a tray, the upper excluded."""
    entered = rng.integers(*plants, trays)
    strength = 1 / correlation - 1
    own = rng.beta(rate * strength, (1 - rate) * strength, trays)
    out = rng.binomial(entered, own)
    return [
        TrayPassage(plants_in=int(n), plants_out=int(k)) for n, k in zip(entered, out, strict=True)
    ]
