"""What do the trays in trouble share that the sound ones do not?

Trays of one batch share nearly everything (spores, mix, day, hand, bench), so four mouldy trays of
one batch are one misfortune, not four. The test therefore moves the outcomes of *whole batches*
about, asks how often chance alone would gather as many affected trays under any one value, and
reports a probability that already allows for all the values looked at. "Nothing stands out" is
an answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from batches.core.batch_moves import moved_batches, step_down_min_p
from batches.core.errors import NurseryError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

PERMUTATIONS = 4_999
FEWEST_PERMUTATIONS = 1_000
# Three clean nurseries in a hundred get something named; six in a hundred are the most allowed.
NAMED_AT = 0.03


class CausesError(NurseryError):
    """The trays handed over cannot be compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedAtTray:
    """A tray that was looked at in the time asked about, and what it was made and kept with.

    ``values`` maps a factor ("media batch") to this tray's value ("M-26-04"); a factor that is
    not known for the tray is left out or empty.
    """

    tray: str
    batch: str
    affected: bool
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLine:
    """One value (or several that the same trays have), and how the trays with it fared.

    ``p`` is adjusted for every value looked at. ``cannot_be_told_apart`` holds the other
    (factor, value) pairs that exactly the same trays have.
    """

    factor: str
    value: str
    affected: int
    of: int
    others_affected: int
    of_others: int
    p: float
    cannot_be_told_apart: tuple[tuple[str, str], ...] = ()

    @property
    def stands_out(self) -> bool:
        """Whether chance alone would seldom do as much, over all values together."""
        return self.p <= NAMED_AT


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedCauses:
    """All values looked at, the likeliest cause first, and a sentence that sums them up."""

    lines: tuple[CauseLine, ...]
    trays: int
    affected: int
    batches: int
    sentence: str

    @property
    def named(self) -> tuple[CauseLine, ...]:
        """The lines that stand out; empty where nothing does."""
        return tuple(line for line in self.lines if line.stands_out)


def shared_causes(
    trays: Sequence[LookedAtTray],
    *,
    rng: np.random.Generator,
    permutations: int = PERMUTATIONS,
) -> SharedCauses:
    """Rank what the affected trays share.

    Parameters
    ----------
    trays
        One row per tray looked at since the date, affected or not. A tray appears once.
    rng
        Where the permutations come from; the same generator state gives the same answer.
    permutations
        How many; at least 1,000 (4,999 by default, so that the smallest p is 1 in 5,000).

    Returns
    -------
    SharedCauses
        One line per set of trays that some value marks out, ranked by adjusted p (one-sided:
        more trouble with the value than without), then by how much better the value explains
        who was affected. Empty, with the reason in ``sentence``, where there is nothing to
        compare: no affected tray, no sound one, or a single batch.

    Raises
    ------
    CausesError
        A tray appears twice, or fewer than 1,000 permutations are asked for.

    Notes
    -----
    Step-down min-p of Westfall and Young, Resampling-Based Multiple Testing (1993), section 2.8,
    from memory; the exchangeable units are batches, and trays within a batch.
    """
    if permutations < FEWEST_PERMUTATIONS:
        raise CausesError(
            f"{permutations} permutations are too few for a probability of one in twenty; "
            f"ask for at least {FEWEST_PERMUTATIONS:,}."
        )
    twice = _named_twice(trays)
    if twice:
        raise CausesError(f"Tray {twice} is in the list twice; a tray counts once.")
    affected = sum(row.affected for row in trays)
    batches = len({row.batch for row in trays})
    groups = _groups(trays)
    why_not = _nothing_to_compare(len(trays), affected, batches, len(groups))
    if why_not:
        return SharedCauses(
            lines=(), trays=len(trays), affected=affected, batches=batches, sentence=why_not
        )
    lines = _ranked(trays, groups, rng, permutations)
    return SharedCauses(
        lines=lines,
        trays=len(trays),
        affected=affected,
        batches=batches,
        sentence=_sentence(lines, len(trays), affected),
    )


def _named_twice(trays: Sequence[LookedAtTray]) -> str:
    seen: set[str] = set()
    for row in trays:
        if row.tray in seen:
            return row.tray
        seen.add(row.tray)
    return ""


def _groups(trays: Sequence[LookedAtTray]) -> dict[frozenset[int], list[tuple[str, str]]]:
    """Find the sets of trays, each with the (factor, value) pairs that mark out just that set.

    A set of one tray is shared by nothing, and a value that all trays have has no others to be
    compared with: both are left out.
    """
    members: dict[tuple[str, str], list[int]] = {}
    for index, row in enumerate(trays):
        for factor, value in row.values.items():
            if value:
                members.setdefault((factor, value), []).append(index)
    groups: dict[frozenset[int], list[tuple[str, str]]] = {}
    for pair, indices in members.items():
        if 1 < len(indices) < len(trays):
            groups.setdefault(frozenset(indices), []).append(pair)
    return groups


def _nothing_to_compare(trays: int, affected: int, batches: int, groups: int) -> str:
    if trays == 0:
        return "No tray was looked at in this time."
    if affected == 0:
        return f"None of the {trays} trays looked at was affected."
    if affected == trays:
        return f"All {trays} trays looked at were affected: there are no others to compare with."
    if batches < 2:
        return "All trays are of one batch: what they share cannot be told from the batch itself."
    if groups == 0:
        return "No two trays share a value that the others lack: there is nothing to compare."
    return ""


def _ranked(
    trays: Sequence[LookedAtTray],
    groups: Mapping[frozenset[int], Sequence[tuple[str, str]]],
    rng: np.random.Generator,
    permutations: int,
) -> tuple[CauseLine, ...]:
    import numpy as np

    outcome = np.array([row.affected for row in trays], dtype=np.float32)
    numbers = {code: n for n, code in enumerate(dict.fromkeys(row.batch for row in trays))}
    batch = np.array([numbers[row.batch] for row in trays], dtype=np.intp)
    member = np.zeros((len(trays), len(groups)), dtype=np.float32)
    for column, indices in enumerate(groups):
        member[list(indices), column] = 1.0
    total = int(outcome.sum())
    observed = np.rint(outcome @ member).astype(np.int64)
    sizes = member.sum(axis=0).astype(np.int64)
    affected, moved = moved_batches(outcome, batch, member, rng, permutations)
    # affected trays beyond what the common rate gives, times the trays: whole numbers, exact
    excess = np.vstack((observed, affected)) * len(trays) - total * np.vstack((sizes, moved))
    p_adjusted = step_down_min_p(excess)
    weight = _explains(observed, sizes, excess[1:] / len(trays), total, len(trays))
    order = sorted(range(len(groups)), key=lambda column: (p_adjusted[column], -weight[column]))
    pairs = list(groups.values())
    return tuple(
        CauseLine(
            factor=pairs[column][0][0],
            value=pairs[column][0][1],
            affected=int(observed[column]),
            of=int(sizes[column]),
            others_affected=total - int(observed[column]),
            of_others=len(trays) - int(sizes[column]),
            p=float(p_adjusted[column]),
            cannot_be_told_apart=tuple(pairs[column][1:]),
        )
        for column in order
    )


def _explains(
    observed: NDArray[np.int64],
    sizes: NDArray[np.int64],
    excess: NDArray[np.float64],
    affected: int,
    trays: int,
) -> NDArray[np.float64]:
    """How much better "more trouble with this value" explains who was affected.

    Twice the gain in binomial log-likelihood over one common rate, divided by how much wider
    than independent trays the value's excess scatters when batches move; negative where the
    value's trays fared better than the others. Breaks ties between values whose p is equally
    small.
    """
    import numpy as np

    others = affected - observed
    gain = 2.0 * (
        _log_likelihood(observed, sizes)
        + _log_likelihood(others, trays - sizes)
        - _log_likelihood(np.array([affected]), np.array([trays]))
    )
    rate = affected / trays
    independent = sizes * (trays - sizes) * rate * (1 - rate) / max(1, trays - 1)
    inflation = np.maximum(excess.var(axis=0) / independent, 0.1)
    sign = np.where(observed * (trays - sizes) >= others * sizes, 1.0, -1.0)
    return np.asarray(sign * gain / inflation, dtype=np.float64)


def _log_likelihood(affected: NDArray[np.int64], of: NDArray[np.int64]) -> NDArray[np.float64]:
    import numpy as np

    rate = np.clip(affected / of, 1e-300, 1.0)
    spared = np.clip(1.0 - affected / of, 1e-300, 1.0)
    return np.asarray(affected * np.log(rate) + (of - affected) * np.log(spared), dtype=np.float64)


def _sentence(lines: Sequence[CauseLine], trays: int, affected: int) -> str:
    first = lines[0]
    if not first.stands_out:
        return (
            f"Nothing stands out: {affected} of {trays} trays were affected, spread as by chance."
        )
    names = [f"{first.factor} {first.value}"]
    names += [f"{factor} {value}" for factor, value in first.cannot_be_told_apart]
    what = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
    tail = "" if len(names) == 1 else " These cannot be told apart: the same trays have them all."
    return (
        f"{first.affected} of {first.of} trays with {what} were affected, "
        f"and {first.others_affected} of {first.of_others} others.{tail}"
    )
