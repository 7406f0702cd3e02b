"""Are repeats of a germination test judged within the table only, and other counts refused?

The table itself stands in `tests/external/test_worked_examples.py`.
"""

from __future__ import annotations

import pytest

from batches.core.germination import NotRepeats, repeats_agree


def test_beyond_the_table_nothing_is_judged():
    found = repeats_agree((40, 44, 52, 48))
    assert (found.mean, found.range, found.allowed, found.agree) == (46, 12, None, None)


@pytest.mark.parametrize("counts", [(), (90, 91, 92), (90, 91, 92, 93, 94), (90, 91, 92, 101)])
def test_other_counts_are_refused(counts):
    with pytest.raises(NotRepeats):
        repeats_agree(counts)
