"""How many spores are in a drop, how far must it be thinned, how much goes on a tray?

A counting chamber (haemocytometer, improved Neubauer): a large square of 1 × 1 mm, 0.1 mm deep,
holds 0.0001 mL. Arithmetic only; large spores may not fit a chamber, and drops on a slide do too.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from statistics import fmean

from batches.core.errors import NurseryError

ML_A_SQUARE = 1e-4


class CannotReckon(NurseryError):
    """What was given makes no sum."""


def spores_per_ml(
    counts: Sequence[int], *, dilution: float = 1.0, ml_counted: float = ML_A_SQUARE
) -> float:
    """Return the spores in a millilitre before it was thinned for counting.

    Parameters
    ----------
    counts : sequence of int
        Spores in each large square (or drop) counted.
    dilution : float
        How many times it was thinned for counting; 1 for not at all.
    ml_counted : float
        Volume of one square, or of one drop.
    """
    if not counts:
        raise CannotReckon("No square was counted, so nothing is known.", field="counts")
    if min(counts) < 0 or dilution < 1 or ml_counted <= 0:
        raise CannotReckon("Counts are 0 or more, and thinning is 1 or more times.")
    return fmean(counts) * dilution / ml_counted


def ml_to_take(*, have: float, want: float, ml: float) -> float:
    """Return the millilitres of a suspension to be made up to ``ml`` so that it holds ``want``.

    Both in spores per mL; C1·V1 = C2·V2.
    """
    if have <= 0 or want <= 0 or ml <= 0:
        raise CannotReckon("Spores and millilitres are above 0.")
    if want > have:
        raise CannotReckon(
            f"It holds only {have:,.0f} spores a mL: thinning does not make it thicker.",
            field="want",
        )
    return want * ml / have


def spores_for(*, cm2: float, per_cm2: float, germination: float) -> int:
    """Return spores for an area so that so many a cm² come up; ``germination`` 0 to 1."""
    if cm2 <= 0 or per_cm2 <= 0:
        raise CannotReckon("Area and density are above 0.")
    if not 0 < germination <= 1:
        raise CannotReckon("Germination lies above 0, and at 100 % at most.", field="germination")
    # What floating point leaves behind the comma is no spore.
    return ceil(round(cm2 * per_cm2 / germination, 6))
