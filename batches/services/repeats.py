"""Do the repeats of a germination test agree, as far as a tolerance is published?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from batches.core.germination import A_REPEAT, REPEATS, repeats_agree
from batches.models import GerminationTest
from batches.services.days import day_words


def repeats_in_words(*, tests: Iterable[GerminationTest]) -> tuple[str, ...]:
    """Return a sentence for each lot of samples sown on one day and counted on one day.

    A single sample is no repeat and has none.
    """
    together: defaultdict[tuple[date, date], list[GerminationTest]] = defaultdict(list)
    for test in tests:
        if test.counted_on is not None:
            together[test.sown_on, test.counted_on].append(test)
    return tuple(
        f"{_of(len(some))} sown on {day_words(sown_on)}: {_judged(some)}"
        for (sown_on, _), some in sorted(together.items())
        if len(some) > 1
    )


def _of(repeats: int) -> str:
    return {2: "Two", 3: "Three", 4: "Four"}.get(repeats, str(repeats)) + " repeats"


def _judged(tests: list[GerminationTest]) -> str:
    counts = [test.germinated or 0 for test in tests]
    if len(tests) != REPEATS or any(test.counted != A_REPEAT for test in tests):
        return (
            f"there is no published tolerance for them; one is published for {REPEATS} repeats of "
            f"{A_REPEAT} alone."
        )
    found = repeats_agree(counts)
    apart = f"they part by {found.range}"
    if found.allowed is None:
        return f"{apart}; at a mean of {found.mean:.0f} % there is no published tolerance."
    allowed = f"{apart}, and {found.allowed} is allowed at a mean of {found.mean:.0f} %"
    if found.agree:
        return f"{allowed}: they agree."
    return f"{allowed}: they do not agree. Sow the test again."
