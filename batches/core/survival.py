"""How many of the plants that entered a stage came through it?

A tray is one environment: its plants live or die together, so a hundred plants in two trays say
far less than a hundred plants in a hundred trays. The interval is Wilson's on the *effective*
number of plants: the number divided by the design effect, from the correlation within trays
(analysis of variance, moments), which is itself shrunk towards a usual value while trays are few,
or nearly all plants live, and say little about it. The rate used for expectations leans on other
ferns of the genus and route.

References: Donner and Klar (2000), Design and Analysis of Cluster Randomization Trials, chapter 1
(design effect); Ridout, Demétrio and Firth (1999), Biometrics 55, 137-148 (correlation by
moments). The usual correlation and the weights are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from batches.core.errors import NurseryError
from batches.core.proportions import t_quantile, wilson
from batches.core.stages import Stage

#: correlation within trays that is usual (rather high: too narrow is the worse mistake), and how
#: many trays, half of whose plants were lost, that belief counts for
USUAL_CORRELATION = 0.15
CORRELATION_TRAYS = 4
#: degrees of freedom of the interval beyond the number of trays
EXTRA_FREEDOM = 4
MOST_CORRELATION = 0.9
#: a yield per tray differs by this share of its mean (coefficient of variation), and how many
#: trays that belief counts for
USUAL_YIELD_SPREAD = 0.5
YIELD_TRAYS = 5
#: a tray that gave so many times what entered it was split; below, it was miscounted
SPLIT_FROM = 1.1
#: plants that a belief about the rate counts for, until enough ferns tell
USUAL_STRENGTH = 12.0
FEWEST_FERNS_FOR_STRENGTH = 5
WEAKEST, STRONGEST = 2.0, 200.0
#: a belief that carries less than this is not named in the basis
WORTH_NAMING = 0.1


class NotAPassage(NurseryError):
    """A tray with fewer than no plants."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrayPassage:
    """One tray that has left a stage: plants that entered it and plants that moved on.

    More may move on than entered (clumps are split, patches become plants); then the ratio is a
    yield, not a share. One or two more are a miscount.
    """

    plants_in: int
    plants_out: int

    def __post_init__(self) -> None:
        if self.plants_in < 0 or self.plants_out < 0:
            raise NotAPassage("A tray cannot hold fewer than no plants.")

    @property
    def is_yield(self) -> bool:
        """Whether plants were split, so that out / in is no share of them."""
        return self.plants_out > max(SPLIT_FROM * self.plants_in, self.plants_in + 2)

    @property
    def survivors(self) -> int:
        """Plants that came through, at most those that entered."""
        return min(self.plants_out, self.plants_in)


@dataclass(frozen=True, slots=True, kw_only=True)
class RatePrior:
    """What is believed of a rate before its own trays: beta with this mean, worth so many plants.

    ``ferns`` is the number of other ferns behind it, 0 for the default.
    """

    mean: float
    strength: float
    rests_on: str
    ferns: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FernRate:
    """One fern's own rate and the effective number of plants behind it."""

    rate: float
    effective_plants: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SurvivalEstimate:
    """How one fern comes through one stage here.

    ``rate`` is plants_out / plants_in, None without plants; ``low`` and ``high`` its 95 %
    interval; ``expected_rate`` leans on the prior. ``effective_plants`` and ``correlation`` are
    those of the interval. ``basis`` names the denominator.
    """

    plants_in: int
    plants_out: int
    rate: float | None
    low: float
    high: float
    expected_rate: float
    trays: int
    basis: str
    effective_plants: float
    correlation: float


def estimate_survival(passages: Sequence[TrayPassage], *, prior: RatePrior) -> SurvivalEstimate:
    """Return how plants come through a stage.

    Parameters
    ----------
    passages : sequence of TrayPassage
        Trays that have left the stage, counted at both ends; trays without plants are dropped.
    prior : RatePrior
        From `rate_prior`.

    Notes
    -----
    Without plants the rate is None, its interval (0, 1), and the expected rate the prior's. Where
    some tray's plants were split, the interval is that of a mean yield, and may pass 1.
    """
    trays = [tray for tray in passages if tray.plants_in > 0]
    entered = sum(tray.plants_in for tray in trays)
    moved = sum(tray.plants_out for tray in trays)
    correlation = shrunk_correlation(trays)
    effective = entered / design_effect(trays, correlation) if entered else 0.0
    rate = moved / entered if entered else None
    if rate is None:
        low, high, expected = 0.0, 1.0, prior.mean
    elif any(tray.is_yield for tray in trays):
        low, high = _yield_interval(trays, rate)
        expected = rate
    else:
        quantile = t_quantile(0.975, len(trays) + EXTRA_FREEDOM)
        share = sum(tray.survivors for tray in trays) / entered
        low, high = wilson(share * effective, effective, quantile=quantile)
        expected = _shrunk(share, effective, prior)
    return SurvivalEstimate(
        plants_in=entered,
        plants_out=moved,
        rate=rate,
        low=low,
        high=high,
        expected_rate=expected,
        trays=len(trays),
        basis=_basis(entered, moved, len(trays), effective, prior),
        effective_plants=effective,
        correlation=correlation,
    )


def _shrunk(rate: float, effective: float, prior: RatePrior) -> float:
    return (prior.mean * prior.strength + rate * effective) / (prior.strength + effective)


def _basis(entered: int, moved: int, trays: int, effective: float, prior: RatePrior) -> str:
    if not entered:
        return prior.rests_on
    own = f"{moved} of {entered} plants in {trays} {'tray' if trays == 1 else 'trays'}"
    if moved > entered or prior.strength < WORTH_NAMING * (prior.strength + effective):
        return own
    return f"{own}, leaning on {prior.rests_on if prior.ferns else 'the default'}"


def correlation_within_trays(trays: Sequence[TrayPassage]) -> float | None:
    """Return the correlation between plants of one tray, between 0 and `MOST_CORRELATION`.

    None where it has no value: fewer than two trays, all lost, none lost, one plant a tray.
    """
    count = len(trays)
    entered = sum(tray.plants_in for tray in trays)
    moved = sum(tray.survivors for tray in trays)
    if count < 2 or moved in (0, entered) or entered == count:
        return None
    share = moved / entered
    own = [tray.survivors / tray.plants_in for tray in trays]
    among = sum(t.plants_in * (p - share) ** 2 for t, p in zip(trays, own, strict=True))
    within = sum(t.survivors * (1 - p) for t, p in zip(trays, own, strict=True))
    among, within = among / (count - 1), within / (entered - count)
    usual = (entered - sum(t.plants_in**2 for t in trays) / entered) / (count - 1)
    total = among + (usual - 1) * within
    return min(max((among - within) / total, 0.0), MOST_CORRELATION)


def shrunk_correlation(trays: Sequence[TrayPassage]) -> float:
    """Return the correlation drawn towards `USUAL_CORRELATION` while the trays say little.

    Each tray after the first counts for 4 q (1 − q), q the rate with two plants added on either
    side: where nearly all live, a rare bad tray decides, and may not have happened yet.
    """
    own = correlation_within_trays(trays)
    if own is None:
        return USUAL_CORRELATION
    entered = sum(tray.plants_in for tray in trays)
    rate = (sum(tray.survivors for tray in trays) + 2) / (entered + 4)
    weight = (len(trays) - 1) * 4 * rate * (1 - rate)
    return (weight * own + CORRELATION_TRAYS * USUAL_CORRELATION) / (weight + CORRELATION_TRAYS)


def design_effect(trays: Sequence[TrayPassage], correlation: float) -> float:
    """Return by how much correlated plants count for less, at least 1."""
    entered = sum(tray.plants_in for tray in trays)
    mates = sum(tray.plants_in**2 for tray in trays) / entered - 1
    return 1.0 + mates * correlation


def _yield_interval(trays: Sequence[TrayPassage], rate: float) -> tuple[float, float]:
    """Return the interval of a mean yield: t on the log scale, its spread shrunk likewise."""
    count = len(trays)
    mean_in = sum(tray.plants_in for tray in trays) / count
    away = sum((t.plants_out - rate * t.plants_in) ** 2 for t in trays) / (rate * mean_in) ** 2
    spread = (away + YIELD_TRAYS * USUAL_YIELD_SPREAD**2) / (count - 1 + YIELD_TRAYS)
    reach = t_quantile(0.975, count + EXTRA_FREEDOM) * math.sqrt(spread / count)
    return rate * math.exp(-reach), rate * math.exp(reach)


def default_rate_prior(from_stage: Stage) -> RatePrior:
    """Return the belief where no fern has left this stage yet (common practice, no source)."""
    means = {Stage.PRICKED_OUT: 0.90, Stage.POTTED_UP: 0.95}
    return RatePrior(
        mean=means.get(from_stage, 0.85), strength=USUAL_STRENGTH, rests_on="default, no data"
    )


def rate_prior(
    *, genus: Sequence[FernRate], route: Sequence[FernRate], default: RatePrior
) -> RatePrior:
    """Return the belief about a fern's rate: from its genus on this route, the route, or neither.

    Parameters
    ----------
    genus, route : sequence of FernRate
        Of *other* ferns on the same route between the same stages.
    """
    for ferns, whose in ((genus, "of the genus"), (route, "raised the same way")):
        known = [fern for fern in ferns if fern.effective_plants > 0 and fern.rate <= 1]
        if known:
            mean = _mean_rate(known, default)
            word = "fern" if len(known) == 1 else "ferns"
            return RatePrior(
                mean=mean,
                strength=_strength(known, mean),
                rests_on=f"{len(known)} other {word} {whose}",
                ferns=len(known),
            )
    return default


def _mean_rate(ferns: Sequence[FernRate], default: RatePrior) -> float:
    """Average the ferns, each for as much as a fern of `USUAL_STRENGTH` lets its plants say.

    The default counts as one plant: a mean of exactly 0 or 1 would leave no doubt.
    """
    weights = [f.effective_plants / (f.effective_plants + USUAL_STRENGTH) for f in ferns]
    total = sum(weight * fern.rate for weight, fern in zip(weights, ferns, strict=True))
    little = 1.0 / USUAL_STRENGTH
    return (total + little * default.mean) / (sum(weights) + little)


def _strength(ferns: Sequence[FernRate], mean: float) -> float:
    """Return how many plants the belief is worth: by moments where ferns are enough.

    Ferns that hardly differ make it strong, at most `STRONGEST`; the variance between ferns is
    DerSimonian and Laird's (1986, Control. Clin. Trials 7, 177-188) as for stage times.
    """
    if len(ferns) < FEWEST_FERNS_FOR_STRENGTH:
        return USUAL_STRENGTH
    scatter = mean * (1 - mean)
    weights = [fern.effective_plants / scatter for fern in ferns]
    total = sum(weights)
    spread = sum(w * (fern.rate - mean) ** 2 for w, fern in zip(weights, ferns, strict=True))
    room = total - sum(w * w for w in weights) / total
    between = (spread - (len(ferns) - 1)) / room
    if between <= 0:
        return STRONGEST
    return min(max(scatter / between - 1, WEAKEST), STRONGEST)
