"""Are repeats of a germination test judged by the published table, and by nothing beyond it?"""

from __future__ import annotations

import pytest

from batches.core.germination import NotRepeats, largest_range, repeats_agree

# Published: 7 CFR 201.55, table of tolerances for four replicates of 100, as far as at hand.
PUBLISHED = [
    ((99,), 5), ((98,), 6), ((97,), 7), ((96,), 8), ((95,), 9), ((94, 93), 10), ((92, 91), 11),
    ((90, 89), 12), ((88, 87), 13), ((86, 85, 84), 14), ((83, 82, 81), 15), ((80, 79, 78), 16),
    ((77,), 17), ((71,), 18),
]  # fmt: skip


@pytest.mark.parametrize(("means", "largest"), PUBLISHED)
def test_the_table_is_the_published_one(means, largest):
    """Published: 7 CFR 201.55."""
    assert {largest_range(mean) for mean in means} == {largest}


def test_where_the_table_ends_there_is_no_tolerance():
    known = {mean for means, _ in PUBLISHED for mean in means}
    assert {mean for mean in range(101) if largest_range(mean) is not None} == known


@pytest.mark.parametrize(
    ("counts", "mean", "spread", "allowed", "agree"),
    [
        # Recomputed by hand with the published table.
        ((92, 88, 95, 89), 91, 7, 11, True),
        ((97, 80, 92, 95), 91, 17, 11, False),
        ((40, 44, 52, 48), 46, 12, None, None),
    ],
)
def test_the_worked_examples(counts, mean, spread, allowed, agree):
    found = repeats_agree(counts)
    assert (found.mean, found.range, found.allowed, found.agree) == (mean, spread, allowed, agree)


@pytest.mark.parametrize("counts", [(), (90, 91, 92), (90, 91, 92, 93, 94), (90, 91, 92, 101)])
def test_other_counts_are_refused(counts):
    with pytest.raises(NotRepeats):
        repeats_agree(counts)
