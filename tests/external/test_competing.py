"""Are the product-limit curve, its error, the log-rank test and the shares the known ones?

- Freireich et al. (1963), both arms: S and Greenwood's errors to six digits and the log-rank
  test to eight. *published data; figures cross-implementation: lifelines, statsmodels, scipy and
  a hand count*; placebo S(10) = 8/21, error 0.106. *published, in lecture notes*
- Bewick, Cheek and Ball (2004), Crit. Care 8, 389-394, table 2. *published*
- Bone-marrow transplants as statsmodels ships them, with S and errors computed in SAS.
  *cross-implementation*
- Melanoma (Andersen, Borgan, Gill and Keiding 1993): cumulative incidence at 1,000 to 4,000 days.
  *published data; figures cross-implementation: statsmodels and scikit-survival*
- statsmodels and lifelines on seeded trays. *cross-implementation*
"""

from __future__ import annotations

import csv
import math
import warnings
from pathlib import Path

import numpy as np
import pytest

from batches.core.competing import fate_by, fates, kaplan_meier, log_rank
from batches.core.intervals import StageInterval
from tests.external.melanoma import MELANOMA
from tests.external.remission import PLACEBO, SIX_MP

SIX_MP_TABLE = [
    (6, 21, 3, 0.857143, 0.076360),
    (7, 17, 1, 0.806723, 0.086935),
    (10, 15, 1, 0.752941, 0.096350),
    (13, 12, 1, 0.690196, 0.106815),
    (16, 11, 1, 0.627451, 0.114054),
    (22, 7, 1, 0.537815, 0.128234),
    (23, 6, 1, 0.448179, 0.134591),
]


def split(data: list[tuple[float, bool]]) -> tuple[list[float], list[bool]]:
    return [time for time, _ in data], [happened for _, happened in data]


def test_remissions_on_six_mp():
    steps = kaplan_meier(*split(SIX_MP))
    assert [(s.time, s.at_risk, s.events) for s in steps] == [line[:3] for line in SIX_MP_TABLE]
    assert [s.share for s in steps] == pytest.approx([line[3] for line in SIX_MP_TABLE], abs=5e-7)
    assert [s.error for s in steps] == pytest.approx([line[4] for line in SIX_MP_TABLE], abs=5e-7)


def test_the_median_remission_on_six_mp():
    assert next(s.time for s in kaplan_meier(*split(SIX_MP)) if s.share <= 0.5) == 23


def test_remissions_on_placebo():
    step = next(s for s in reversed(kaplan_meier(*split(PLACEBO))) if s.time <= 10)
    assert step.share == pytest.approx(8 / 21)
    assert step.error == pytest.approx(0.106, abs=5e-4)


def test_the_two_arms_differ():
    found = log_rank(split(SIX_MP), split(PLACEBO))
    assert found is not None
    assert found.observed == 9
    assert found.expected == pytest.approx(19.2505, abs=5e-5)
    assert found.variance == pytest.approx(6.256961, abs=5e-7)
    assert found.chi_square == pytest.approx(16.792941, abs=5e-7)
    assert found.p == pytest.approx(4.1688e-5, abs=5e-10)


def test_a_table_for_clinicians():
    times = [1, 1, 4, 5, 6, 9, 9, 22]
    happened = [True, True, True, True, False, True, False, True]
    shares = [s.share for s in kaplan_meier(times, happened)]
    assert shares == pytest.approx([0.750, 0.625, 0.500, 0.333, 0.000], abs=5e-4)


def test_bone_marrow_transplants():
    import statsmodels.duration

    folder = Path(statsmodels.duration.__file__).parent / "tests" / "results"
    with (folder / "bmt.csv").open() as lines:
        data = [line for line in csv.DictReader(lines) if line["Group"] == "ALL"]
    with (folder / "bmt_results.csv").open() as lines:
        known = {float(line["t"]): line for line in csv.DictReader(lines)}
    steps = kaplan_meier(
        [float(line["T"]) for line in data], [line["Status"] == "1" for line in data]
    )
    assert {s.time for s in steps} <= known.keys()
    for step in steps:
        line = known[step.time]
        assert step.share == pytest.approx(float(line["s"]), abs=1e-4)
        assert step.error == pytest.approx(float(line["se"]), abs=1e-4)


def melanoma_rows() -> list[StageInterval]:
    """Death of melanoma stands for moving on, other deaths for being lost; days are exact."""
    found = []
    for day, ending in MELANOMA:
        if ending == "melanoma":
            found.append(StageInterval(left=day - 1e-6, right=day + 1e-6, ending="seen"))
        else:
            found.append(StageInterval(left=day, ending="lost" if ending == "other" else "waiting"))
    return found


def test_melanoma_is_told_from_other_deaths():
    steps = fates(melanoma_rows())
    shares = [fate_by(steps, day + 0.5) for day in (1000, 2000, 3000, 4000)]
    assert [s.moved_on for s in shares] == pytest.approx(
        [0.12745714, 0.23013963, 0.30962017, 0.33871751], abs=5e-9
    )
    assert [s.lost for s in shares] == pytest.approx(
        [0.03426709, 0.05045644, 0.05811143, 0.10594706], abs=5e-9
    )


def seeded(count: int = 150) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(9)
    # No two on one day: lifelines would shuffle ties.
    return rng.permutation(count * 2)[:count] + 1.0, rng.choice(3, count, p=[0.3, 0.5, 0.2])


def as_rows(times: np.ndarray, kinds: np.ndarray) -> list[StageInterval]:
    found = []
    for time, kind in zip(times, kinds, strict=True):
        if kind == 1:
            found.append(StageInterval(left=time - 0.25, right=time + 0.25, ending="seen"))
        else:
            found.append(StageInterval(left=time, ending="lost" if kind == 2 else "waiting"))
    return found


def test_statsmodels_finds_the_same_shares():
    from statsmodels.duration.survfunc import CumIncidenceRight

    times, kinds = seeded()
    theirs = CumIncidenceRight(times, kinds)
    steps = fates(as_rows(times, kinds))
    for place, day in enumerate(theirs.times):
        ours = fate_by(steps, float(day))
        assert ours.moved_on == pytest.approx(theirs.cinc[0][place], abs=1e-12)
        assert ours.lost == pytest.approx(theirs.cinc[1][place], abs=1e-12)


def test_lifelines_finds_the_same_share_moved_on():
    from lifelines import AalenJohansenFitter

    times, kinds = seeded()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = AalenJohansenFitter(calculate_variance=False).fit(
            times, kinds, event_of_interest=1
        )
    steps = fates(as_rows(times, kinds))
    for day, share in theirs.cumulative_density_["CIF_1"].items():
        assert fate_by(steps, float(day)).moved_on == pytest.approx(share, abs=1e-9)


def test_scipy_finds_the_same_curve_and_test():
    from scipy import stats

    times, kinds = seeded()
    happened = kinds == 1
    theirs = stats.ecdf(stats.CensoredData.right_censored(times, ~happened)).sf
    ours = {s.time: s.share for s in kaplan_meier(times.tolist(), happened.tolist())}
    for day, share in zip(theirs.quantiles, theirs.probabilities, strict=True):
        if day in ours:
            assert ours[day] == pytest.approx(share, abs=1e-12)
    first, second = slice(0, 70), slice(70, None)
    test = stats.logrank(
        stats.CensoredData.right_censored(times[first], ~happened[first]),
        stats.CensoredData.right_censored(times[second], ~happened[second]),
    )
    found = log_rank(
        (times[first].tolist(), happened[first].tolist()),
        (times[second].tolist(), happened[second].tolist()),
    )
    assert found is not None
    assert math.sqrt(found.chi_square) == pytest.approx(abs(test.statistic), rel=1e-9)
    assert found.p == pytest.approx(test.pvalue, rel=1e-9)
