"""How long does this fern take from one stage to the next, here, and on what does that rest?

Three layers over the same rows: Turnbull's curve with its brackets for looking at; a Weibull curve
with a stalled share, blended with what was believed before, for dates; the shares moved on, lost
and still there are in `batches.core.competing`. *Expected* is the predictive median and *late
after* the predictive 90 % of those that move on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from batches.core.intervals import StageInterval
from batches.core.predictive import Draws, draw
from batches.core.stage_prior import StagePrior, unbounded_below, window_prior
from batches.core.stages import Window
from batches.core.turnbull import Bracket, turnbull
from batches.core.weibull import WeibullFit, fit_with_stalled

#: so many trays of its own that moved on, and the belief before them is no longer named
OWN_ENOUGH = 10
EXPECTED, LATE = 0.5, 0.9


@dataclass(frozen=True, slots=True, kw_only=True)
class StageEstimate:
    """How long one fern takes for one stage here.

    Days are on the stage's clock. ``seen`` + ``still_waiting`` + ``lost`` = ``trays``.
    ``stalled_share`` is the share that never moves on. ``median_low`` and ``median_high`` bracket
    the median of Turnbull's ``curve``, both None while fewer than half have moved on.
    """

    trays: int
    seen: int
    still_waiting: int
    lost: int
    expected_days: float
    late_after_days: float
    stalled_share: float
    median_low: float | None
    median_high: float | None
    basis: str
    curve: tuple[Bracket, ...]
    fit: WeibullFit

    @property
    def rests_on_own(self) -> bool:
        """Whether enough of this fern's own trays moved on that nothing else is named."""
        return self.seen >= OWN_ENOUGH

    def draws(self, count: int = 400) -> Draws:
        """Return draws of the curve's parameters, the same ones every time; `count` is even."""
        return draw(self.fit, count)


def estimate_stage(
    rows: Sequence[StageInterval], *, window: Window, prior: StagePrior | None = None
) -> StageEstimate:
    """Return how long a fern takes for a stage.

    Parameters
    ----------
    rows : sequence of StageInterval
        One a tray; none at all is answered by the prior.
    window : Window
        The default window, or the fern's own.
    prior : StagePrior, optional
        From `prior_from_relatives`; the window's own without it.

    Notes
    -----
    Without rows the answer is the prior's, and where that is a window, its late day exactly.
    Where every sign was there at the very first look, nobody knows how much earlier it came: then
    no tray is late before the day of the earliest such look, or the prior's late day.
    """
    prior = window_prior(window) if prior is None else prior
    fit = fit_with_stalled(rows, prior.belief)
    expected, late = _days(fit, prior)
    if fit.seen and unbounded_below(rows):
        first_look = min(row.right for row in rows if row.ending == "seen")
        before = _days(fit_with_stalled([], prior.belief), prior)[1]
        late = max(late, min(first_look, before))
    curve = turnbull(rows)
    low, high = curve.median or (None, None)
    seen = sum(row.ending == "seen" for row in rows)
    waiting = sum(row.ending == "waiting" for row in rows)
    return StageEstimate(
        trays=len(rows),
        seen=seen,
        still_waiting=waiting,
        lost=len(rows) - seen - waiting,
        expected_days=expected,
        late_after_days=late,
        stalled_share=fit.stalled_share,
        median_low=low,
        median_high=high,
        basis=basis_words(trays=len(rows), seen=seen, prior=prior),
        curve=curve.brackets,
        fit=fit,
    )


def _days(fit: WeibullFit, prior: StagePrior) -> tuple[float, float]:
    draws = draw(fit)
    expected, late = draws.quantile(EXPECTED), draws.quantile(LATE)
    if not fit.trays and prior.window is not None:
        late = float(prior.window.late)
    return expected, late


def basis_words(*, trays: int, seen: int, prior: StagePrior) -> str:
    """Say on what an estimate rests: “4 trays here and 3 other ferns of the genus”."""
    number = "1 tray" if trays == 1 else f"{trays} trays"
    if not trays:
        return prior.rests_on
    if seen >= OWN_ENOUGH:
        return f"{number} of this fern"
    joined = prior.rests_on if prior.ferns else f"the {prior.rests_on}"
    return f"{number} here and {joined}"
