"""Which curve of stage times do the looks themselves support, with no shape assumed?

Turnbull's nonparametric maximum-likelihood estimate for (left, right] rows: shares that lie
somewhere within brackets of days. Inside a bracket the curve is not identified, so a median is a
bracket too.

The self-consistency (EM) step is sped up by squared extrapolation (SQUAREM, scheme S3) and
finished by Newton steps on the brackets that still hold something. It stops on a certificate, not
on small changes: N (max_j g_j − 1) bounds how far the log-likelihood is from its maximum, where
g_j is the mean over rows of [bracket j within the row] / (probability of the row).

References: Turnbull (1976), J. R. Stat. Soc. B 38, 290-295; Gentleman and Geyer (1994),
Biometrika 81, 618-623 (the gap); Varadhan and Roland (2008), Scand. J. Stat. 35, 335-353.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from batches.core.intervals import Floats, StageInterval, pooled

#: how far the log-likelihood may be from its maximum
GAP = 1e-8
MAX_ROUNDS = 500
#: a share below this is nothing; a bracket below it is not shown
NOTHING = 1e-9
#: rounding keeps the gap above this much of the rows' weight
_ROUNDING = 1e-11
_EM_ALONE = 2
_MOST = 0.7


@dataclass(frozen=True, slots=True, kw_only=True)
class Bracket:
    """A share of the trays moved on after `after` days and by `by` days (infinite: not yet)."""

    after: float
    by: float
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StageCurve:
    """Turnbull's estimate: brackets in order of days, their shares summing to 1.

    ``log_likelihood`` is that of the rows, ``gap`` how far at most it is from the largest
    possible, ``trays`` the weight of the rows. Without rows there are no brackets.
    """

    brackets: tuple[Bracket, ...]
    log_likelihood: float
    gap: float
    rounds: int
    trays: float

    def quantile(self, share: float) -> tuple[float, float] | None:
        """Return the bracket by whose end `share` of the trays had moved on.

        None when so many have not moved on yet, or there are no rows.
        """
        moved = 0.0
        for bracket in self.brackets:
            moved += bracket.share
            if moved >= share - NOTHING:
                return (bracket.after, bracket.by) if math.isfinite(bracket.by) else None
        return None

    @property
    def median(self) -> tuple[float, float] | None:
        """The bracket that holds the median; None when fewer than half have moved on."""
        return self.quantile(0.5)

    def moved_by(self, day: float) -> tuple[float, float]:
        """Return the lowest and highest share moved on by a day: all that is identified."""
        low = sum(b.share for b in self.brackets if b.by <= day)
        high = sum(b.share for b in self.brackets if b.after < day)
        return min(low, 1.0), min(high, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """Rows against brackets: row i spans brackets first[i] to last[i] (both within)."""

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    weight: Floats
    after: Floats
    by: Floats

    @property
    def total(self) -> float:
        return float(self.weight.sum())


def turnbull(rows: Sequence[StageInterval], *, gap: float = GAP) -> StageCurve:
    """Return Turnbull's estimate of the share moved on by each day.

    Parameters
    ----------
    rows : sequence of StageInterval
        *lost* counts as *waiting*; *no_germination* as a tray that moves on after every day seen.
    gap : float
        The largest distance of the log-likelihood from its maximum at which to stop; as far as
        rounding allows with very many rows.

    Returns
    -------
    StageCurve
        Without brackets when there are no rows; one open bracket when nothing moved on yet.
    """
    if not rows:
        return StageCurve(brackets=(), log_likelihood=0.0, gap=0.0, rounds=0, trays=0.0)
    problem = _problem(rows)
    share, worst, rounds = _maximise(problem, gap)
    likelihood = float(problem.weight @ np.log(_row_chance(problem, share)))
    brackets = tuple(
        Bracket(after=float(a), by=float(b), share=float(p))
        for a, b, p in zip(problem.after, problem.by, share, strict=True)
        if p > NOTHING
    )
    return StageCurve(
        brackets=brackets, log_likelihood=likelihood, gap=worst, rounds=rounds, trays=problem.total
    )


def _problem(rows: Sequence[StageInterval]) -> _Problem:
    """Find the innermost brackets: a left end next followed by a right end."""
    data = pooled(rows)
    left = np.concatenate([data.seen_left, data.open_left])
    right = np.concatenate([data.seen_right, np.full(len(data.open_left), np.inf)])
    weight = np.concatenate([data.seen_weight, data.open_weight])
    if data.never:
        latest = max(float(left.max(initial=0.0)), float(data.seen_right.max(initial=0.0)))
        left, right = np.append(left, latest), np.append(right, np.inf)
        weight = np.append(weight, data.never)
    lefts, rights = np.unique(left), np.unique(right)
    # Right ends sort before equal left ends: (a, 7] and (7, b] share no day.
    ends = np.concatenate([rights, lefts])
    is_left = np.concatenate([np.zeros(len(rights), bool), np.ones(len(lefts), bool)])
    order = np.lexsort((is_left, ends))
    ends, is_left = ends[order], is_left[order]
    inner = np.flatnonzero(is_left[:-1] & ~is_left[1:])
    after, by = ends[inner], ends[inner + 1]
    return _Problem(
        first=np.searchsorted(after, left, side="left"),
        last=np.searchsorted(by, right, side="right") - 1,
        weight=weight,
        after=after,
        by=by,
    )


def _row_chance(problem: _Problem, share: Floats) -> Floats:
    """Probability of each row: the shares of the brackets that it spans."""
    total = np.concatenate([[0.0], np.cumsum(share)])
    return np.asarray(total[problem.last + 1] - total[problem.first])


def _pull(problem: _Problem, share: Floats) -> tuple[Floats, float]:
    """Return g, shape (brackets,), and the log-likelihood of the shares."""
    chance = np.maximum(_row_chance(problem, share), 1e-300)
    ratio = problem.weight / chance
    size = len(share) + 1
    steps = np.bincount(problem.first, ratio, size) - np.bincount(problem.last + 1, ratio, size)
    return np.cumsum(steps[:-1]) / problem.total, float(problem.weight @ np.log(chance))


def _maximise(problem: _Problem, gap: float) -> tuple[Floats, float, int]:
    """Alternate squared EM and, soon, Newton steps until the certificate holds."""
    count = len(problem.after)
    share = np.full(count, 1.0 / count)
    gap = max(gap, _ROUNDING * problem.total)
    worst = math.inf
    for done in range(1, MAX_ROUNDS + 1):
        share = _squared_step(problem, share)
        worst = _gap(problem, share)
        if worst > gap and done > _EM_ALONE:
            share = _newton_step(problem, share)
            worst = _gap(problem, share)
        if worst <= gap:
            break
    return share, worst, done


def _gap(problem: _Problem, share: Floats) -> float:
    """Return how far at most the log-likelihood is from its maximum."""
    return problem.total * max(float(_pull(problem, share)[0].max()) - 1.0, 0.0)


def _squared_step(problem: _Problem, share: Floats) -> Floats:
    """One SQUAREM cycle: two EM steps, an extrapolation, and a third that makes it safe."""
    one = _em(problem, share)
    two = _em(problem, one)
    move, bend = one - share, two - 2 * one + share
    size = float(np.sqrt(bend @ bend))
    if size < 1e-14:
        return two
    reach = min(-float(np.sqrt(move @ move)) / size, -1.0)
    far = share - 2 * reach * move + reach * reach * bend
    if far.min() < 0:
        far = np.maximum(far, 1e-12)
    far = _em(problem, far / far.sum())
    return far if _pull(problem, far)[1] >= _pull(problem, two)[1] else two


def _em(problem: _Problem, share: Floats) -> Floats:
    pull, _ = _pull(problem, share)
    new = share * pull
    return np.asarray(new / new.sum(), dtype=float)


def _newton_step(problem: _Problem, share: Floats) -> Floats:
    """Maximise the quadratic model over shares of at least 0, then as much of it as helps.

    The sum is left free and the log-likelihood less N times the sum is maximised: its maximum has
    sum 1 by itself (Wang 2007, J. R. Stat. Soc. B 69, 185-198, uses the same device).
    """
    pull, before = _pull(problem, share)
    held = np.flatnonzero((share > NOTHING) | (pull > 1.0))
    columns = _reduced_rows(problem, share, held)
    curvature = columns.T @ columns
    uphill = problem.total * (pull[held] - 1.0) + curvature @ share[held]
    aim = np.zeros_like(share)
    aim[held] = _within_bounds(curvature, uphill, share[held])
    for _ in range(12):
        trial = aim / aim.sum() if aim.sum() > 0 else share
        if _row_chance(problem, trial).min() > 0 and _pull(problem, trial)[1] >= before:
            return np.asarray(trial, dtype=float)
        aim = (aim + share) / 2
    return share


def _reduced_rows(problem: _Problem, share: Floats, held: NDArray[np.intp]) -> Floats:
    """Rows against the brackets held, divided by the row's probability; shape (rows, held)."""
    within = (held >= problem.first[:, None]) & (held <= problem.last[:, None])
    scale = np.sqrt(problem.weight) / np.maximum(_row_chance(problem, share), 1e-300)
    return np.asarray(within * scale[:, None], dtype=float)


def _within_bounds(curvature: Floats, uphill: Floats, start: Floats) -> Floats:
    """Minimise x'Cx/2 − u'x over x ≥ 0.

    Lawson and Hanson's active set (Solving Least Squares Problems, 1974, chapter 23), begun with
    the shares there are once most have gone, with those that stand out before: free the
    coordinates that gain most, step back to the bound where a free one would turn negative. All
    peaks of the gain are freed at once; where that ends on the spot, the best alone.
    """
    free = start > NOTHING
    if free.mean() > _MOST:
        free &= _peaks(start)
    now = np.where(free, start, 0.0)
    steepest = 1e-10 * float(np.abs(uphill).max())
    for _ in range(3 * len(start)):
        before = now
        now, free = _back_to_bounds(curvature, uphill, now, free)
        slope = np.where(free, -np.inf, uphill - curvature @ now)
        gains = slope > steepest
        if not gains.any():
            break
        if np.array_equal(before, now):
            free[int(np.argmax(slope))] = True
        else:
            free |= gains & _peaks(slope)
    return now


def _peaks(values: Floats) -> NDArray[np.bool_]:
    """Tell which values are no lower than their neighbours."""
    edged = np.concatenate([[-np.inf], values, [-np.inf]])
    return np.asarray((values >= edged[:-2]) & (values >= edged[2:]))


def _back_to_bounds(
    curvature: Floats, uphill: Floats, now: Floats, free: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Solve for the free coordinates, giving up those that would be negative on the way."""
    ridge = 1e-12 * float(np.trace(curvature)) / len(now)
    while free.any():
        part = curvature[np.ix_(free, free)] + ridge * np.eye(int(free.sum()))
        aim = np.linalg.solve(part, uphill[free])
        here = now[free]
        down = aim <= 0
        if not down.any():
            now = np.zeros_like(now)
            now[free] = aim
            break
        step = float(np.min(here[down] / np.maximum(here[down] - aim[down], 1e-300)))
        here = here + step * (aim - here)
        gone = down & (here <= 1e-15)
        now[free] = np.where(gone, 0.0, here)
        free[np.flatnonzero(free)[gone]] = False
    return now, free
