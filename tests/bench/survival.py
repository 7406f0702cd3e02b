"""How often does a survival interval hold the true rate, and how wide is it?"""

from __future__ import annotations

import numpy as np

from batches.core.proportions import wilson
from batches.core.stages import Stage
from batches.core.survival import RatePrior, default_rate_prior, estimate_survival
from tests.bench.figure import Figure
from tests.simulate.tray_survival import passages

RUNS = 1_000
RATES = (0.5, 0.7, 0.85, 0.95)
TRAYS = (1, 2, 5, 10, 14, 20, 30)
CORRELATIONS = (0.02, 0.10, 0.25)
PLANTS = (20, 120)
PRIOR = default_rate_prior(Stage.PRICKED_OUT)


def figures(runs: int = RUNS) -> list[Figure]:
    """Run every rate, correlation and number of trays; about half a minute with 1,000 runs."""
    lines = []
    for correlation in CORRELATIONS:
        held = [_held(rate, correlation, trays, runs) for rate in RATES for trays in TRAYS]
        bare = min(plain for _, plain, _ in held)
        worst = min(own for own, _, _ in held)
        lines.append(
            Figure(
                f"survival intervals that hold, worst case, correlation {correlation:g}", worst,
                "share", bare, worst / bare, "0.90 to 1.00 at nominal 0.95", worst >= 0.90,
            )
        )  # fmt: skip
    # At a rate of one half nothing is that narrow: with the correlation known it would be .19.
    width = max(_held(rate, 0.10, 14, runs)[2] for rate in RATES if rate > 0.5)
    lines.append(
        Figure(
            "width of the survival interval, 14 trays, correlation 0.1, rates from 0.7", width,
            "share", None, None, "≤ 0.20", width <= 0.20,
        )
    )  # fmt: skip
    return [*lines, *(_leaning(trays, runs) for trays in (1, 5, 30))]


def _held(rate: float, correlation: float, trays: int, runs: int) -> tuple[float, float, float]:
    """Return how often ours and a plain Wilson interval hold the rate, and the width of ours."""
    rng = np.random.default_rng([round(rate * 100), round(correlation * 100), trays])
    own = plain = width = 0.0
    for _ in range(runs):
        rows = passages(rng, rate=rate, correlation=correlation, trays=trays, plants=PLANTS)
        found = estimate_survival(rows, prior=PRIOR)
        low, high = wilson(found.plants_out, found.plants_in)
        own += found.low <= rate <= found.high
        plain += low <= rate <= high
        width += found.high - found.low
    return own / runs, plain / runs, width / runs


def _leaning(trays: int, runs: int) -> Figure:
    """Compare the rate leaning on other ferns with the bare one; ferns differ by beta(8.4, 3.6)."""
    rng = np.random.default_rng(trays)
    prior = RatePrior(mean=0.7, strength=12, rests_on="others", ferns=9)
    own, bare = [], []
    for rate in rng.beta(8.4, 3.6, runs):
        rows = passages(rng, rate=float(rate), correlation=0.1, trays=trays, plants=PLANTS)
        found = estimate_survival(rows, prior=prior)
        own.append((found.expected_rate - rate) ** 2)
        bare.append(((found.rate or 0.0) - rate) ** 2)
    error, floor = float(np.sqrt(np.mean(own))), float(np.sqrt(np.mean(bare)))
    return Figure(
        f"error of the expected rate, {trays} trays of a fern", error, "share", floor,
        floor / error, "no worse than the bare rate", error <= floor * 1.02,
    )  # fmt: skip
