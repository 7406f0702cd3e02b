"""Which of many copies are worth keeping?"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from datetime import datetime, timedelta

#: how many days, weeks and months keep a copy each; common practice, no source
DAYS, WEEKS, MONTHS = 7, 5, 12
#: within this time every copy is kept
ALL_KEPT = timedelta(days=2)


def worth_keeping(moments: Iterable[datetime]) -> frozenset[datetime]:
    """Return the moments of the copies to keep, out of those of all copies.

    Everything of the two days before the newest copy; beyond that the newest of each of the last
    seven days, five ISO weeks and twelve months that have one. The newest copy is always kept, and
    it alone says what is recent: a clock that jumps ahead makes no copy old.
    """
    newest_first = sorted(set(moments), reverse=True)
    if not newest_first:
        return frozenset()
    recent = {one for one in newest_first if newest_first[0] - one <= ALL_KEPT}
    spans: tuple[tuple[int, Callable[[datetime], Hashable]], ...] = (
        (DAYS, lambda one: one.date()),
        (WEEKS, lambda one: one.isocalendar()[:2]),
        (MONTHS, lambda one: (one.year, one.month)),
    )
    kept = set(recent)
    for count, span in spans:
        firsts: dict[Hashable, datetime] = {}
        for one in newest_first:
            firsts.setdefault(span(one), one)
        kept |= set(list(firsts.values())[:count])
    return frozenset(kept)
