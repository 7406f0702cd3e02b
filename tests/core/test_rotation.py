"""Do the copies that are kept reach back over days, weeks and months?"""

from __future__ import annotations

from datetime import datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from batches.core.rotation import worth_keeping

EVENING = datetime.fromisoformat("2026-06-10 18:00")
MOMENTS = st.lists(
    st.datetimes(EVENING - timedelta(days=900), EVENING + timedelta(days=200)), max_size=60
)


def test_a_copy_every_evening_of_two_years_leaves_seven_days_five_weeks_and_twelve_months() -> None:
    every = [EVENING - timedelta(days=n) for n in range(730)]
    kept = sorted(worth_keeping(every), reverse=True)
    assert kept[:7] == every[:7]
    # The week of 10 June 2026 is week 24; then the last evening, a Sunday, of each week before.
    sundays = [one for one in kept if one.isoweekday() == 7][:4]
    assert [one.isocalendar().week for one in sundays] == [23, 22, 21, 20]
    assert len({(one.year, one.month) for one in kept}) == 12
    assert len(kept) == 7 + 3 + 11 - 1  # the Sunday of 31 May is both a week's and a month's


def test_many_copies_of_two_days_are_all_kept() -> None:
    every = [EVENING - timedelta(hours=n) for n in range(40)]
    assert worth_keeping(every) == set(every)


@given(MOMENTS)
def test_the_newest_stays_nothing_is_made_up_and_dropping_twice_is_dropping_once(
    moments: list[datetime],
) -> None:
    kept = worth_keeping(moments)
    assert kept <= set(moments)
    assert not moments or max(moments) in kept
    assert worth_keeping(kept) == kept


@given(MOMENTS, st.datetimes(EVENING + timedelta(days=201), EVENING + timedelta(days=350)))
def test_a_new_copy_never_costs_the_last_one_of_a_recent_month(
    moments: list[datetime], new: datetime
) -> None:
    before = worth_keeping(moments)
    after = worth_keeping([*before, new])
    recent = {(one.year, one.month) for one in sorted(before, reverse=True)[:1]}
    assert recent <= {(one.year, one.month) for one in after}
