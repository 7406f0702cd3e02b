"""How far do the estimators lie from published tables and from other programs?

The tables stand, each with its source, in `tests/external/`; here the largest difference of each is
measured against its bar.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import numpy as np

from batches.core.competing import fate_by, fates, kaplan_meier, log_rank
from batches.core.cover import otsu_threshold
from batches.core.intervals import StageInterval
from batches.core.proportions import clopper_pearson, wilson
from batches.core.turnbull import turnbull
from batches.core.weibull import fit_weibull
from tests.bench.figure import Figure
from tests.external.cosmesis import rows
from tests.external.remission import PLACEBO, SIX_MP
from tests.external.test_competing import SIX_MP_TABLE, melanoma_rows, split
from tests.external.test_proportions import TABLE
from tests.external.test_turnbull import PUBLISHED
from tests.external.test_weibull import of_lifelines, of_scipy
from tests.simulate.photos import SCENES, photo
from tests.simulate.stage_times import history, some_fern

#: deaths of melanoma and others by 1,000 to 4,000 days, to eight digits (tests/external)
MELANOMA_SHARES = (
    (0.12745714, 0.03426709), (0.23013963, 0.05045644), (0.30962017, 0.05811143),
    (0.33871751, 0.10594706),
)  # fmt: skip


def figures() -> list[Figure]:
    """Measure every table; a few seconds."""
    return [
        _figure("Turnbull, published cosmesis masses", _cosmesis(), 5e-5),
        _figure("Turnbull, exact rational case", _rational(), 1e-9),
        _figure("Weibull fit beside scipy and lifelines, relative to its days", _weibull(), 5e-4),
        _figure("Kaplan-Meier and Greenwood, published remissions", _remissions(), 5e-7),
        _figure("log-rank chi-square, published remissions", _two_arms(), 5e-7),
        _figure("Aalen-Johansen, melanoma", _melanoma(), 5e-9),
        _figure("Wilson and Clopper-Pearson, published table", _proportions(), 5e-5),
        _figure("Otsu's cut beside scikit-image", _otsu(), 1e-12),
    ]


def _figure(name: str, apart: float, bar: float) -> Figure:
    return Figure(name, apart, "apart at most", None, None, f"≤ {bar:g}", apart <= bar)


def _apart(ours: Iterable[float], theirs: Iterable[float]) -> float:
    pairs = zip(ours, theirs, strict=True)
    return max(abs(a - b) for a, b in pairs)


def _cosmesis() -> float:
    apart = []
    for arm, masses in PUBLISHED.items():
        found = {(b.after, b.by): b.share for b in turnbull(rows(arm)).brackets}
        apart.append(_apart((found.get(gap, 1.0) for gap in masses), masses.values()))
    return max(apart)


def _rational() -> float:
    left, right = (2, 5, 1, 1, 9, 8, 10), (3, 6, 7, 7, 12, 10, 13)
    seen = [StageInterval(left=a, right=b, ending="seen") for a, b in zip(left, right, strict=True)]
    exact = [Fraction(2, 7), Fraction(2, 7), Fraction(3, 14), Fraction(3, 14)]
    return _apart((b.share for b in turnbull(seen).brackets), map(float, exact))


def _weibull() -> float:
    apart = []
    for trays in (20, 200):
        rng = np.random.default_rng(trays)
        looked = history(rng, some_fern(rng), trays)
        fit = fit_weibull(looked)
        for shape, scale in (of_scipy(looked), of_lifelines(looked)):
            for share in (0.5, 0.9):
                theirs = scale * (-np.log(1 - share)) ** (1 / shape)
                apart.append(abs(fit.quantile(share) / theirs - 1))
    return float(max(apart))


def _remissions() -> float:
    steps = kaplan_meier(*split(SIX_MP))
    shares = _apart((s.share for s in steps), (line[3] for line in SIX_MP_TABLE))
    return max(shares, _apart((s.error for s in steps), (line[4] for line in SIX_MP_TABLE)))


def _two_arms() -> float:
    found = log_rank(split(SIX_MP), split(PLACEBO))
    return 1.0 if found is None else abs(found.chi_square - 16.792941)


def _melanoma() -> float:
    steps = fates(melanoma_rows())
    found = [fate_by(steps, day + 0.5) for day in (1000, 2000, 3000, 4000)]
    ours = [share for one in found for share in (one.moved_on, one.lost)]
    return _apart(ours, (share for pair in MELANOMA_SHARES for share in pair))


def _proportions() -> float:
    apart = []
    for hits, of, by_wilson, exact in TABLE:
        apart.append(_apart(wilson(hits, of), by_wilson))
        apart.append(_apart(clopper_pearson(hits, of), exact))
    return max(apart)


def _otsu() -> float:
    from skimage.filters import threshold_otsu

    apart = []
    for scene in SCENES:
        red, green, blue = np.moveaxis(photo(scene, 0.4, seed=1).astype(float), 2, 0)
        index = (2 * green - red - blue) / np.maximum(red + green + blue, 1.0)
        apart.append(abs(otsu_threshold(index) - float(threshold_otsu(index))))
    return max(apart)
