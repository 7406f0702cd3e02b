"""Do the repeats of a germination test agree well enough to be averaged?

The largest difference allowed between four repeats of a hundred depends on their mean. The table
is that of 7 CFR 201.55 (United States, Federal Seed Act regulations) as far as it is at hand; where
it ends, no tolerance is given: none is invented, and no formula fills it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from batches.core.errors import NurseryError

REPEATS, A_REPEAT = 4, 100
#: mean in whole per cent → largest range in per cent
_LARGEST_RANGE = {
    99: 5, 98: 6, 97: 7, 96: 8, 95: 9, 94: 10, 93: 10, 92: 11, 91: 11, 90: 12, 89: 12, 88: 13,
    87: 13, 86: 14, 85: 14, 84: 14, 83: 15, 82: 15, 81: 15, 80: 16, 79: 16, 78: 16, 77: 17, 71: 18,
}  # fmt: skip


class NotRepeats(NurseryError):
    """The counts are no repeats of one test."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatsAgree:
    """Mean and range of four repeats in per cent, and what is allowed.

    ``allowed`` and ``agree`` are None where no tolerance is published.
    """

    mean: float
    range: int
    allowed: int | None
    agree: bool | None


def largest_range(mean: float) -> int | None:
    """Return the largest range allowed at a mean per cent; None where none is published.

    The mean is rounded to whole per cent, a half upwards.
    """
    return _LARGEST_RANGE.get(int(mean + 0.5))


def repeats_agree(germinated: Sequence[int]) -> RepeatsAgree:
    """Judge four repeats of a hundred each, given as how many of each came up.

    Raises
    ------
    NotRepeats
        When there are not four, or a count is not 0 to 100: the table knows no others.
    """
    if len(germinated) != REPEATS:
        raise NotRepeats(f"The published tolerance is for {REPEATS} repeats of {A_REPEAT}.")
    if any(not 0 <= count <= A_REPEAT for count in germinated):
        raise NotRepeats(f"Of a repeat of {A_REPEAT}, 0 to {A_REPEAT} come up.")
    mean = sum(germinated) / REPEATS
    spread = max(germinated) - min(germinated)
    allowed = largest_range(mean)
    return RepeatsAgree(
        mean=mean,
        range=spread,
        allowed=allowed,
        agree=None if allowed is None else spread <= allowed,
    )
