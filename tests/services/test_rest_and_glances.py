"""Do rest and glances keep their promises in the stored records, whatever is looked at when?

A glance proves nothing; a rest takes no time, makes nobody late, and no duration negative.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.core.errors import LedgerDoesNotBalance, NotPossibleNow
from batches.models import Tray
from batches.services.checks import record_check
from batches.services.glances import record_glance
from batches.services.overdue import overdue_lines
from batches.services.picking import Filling, Take, pot_up, prick_out
from batches.services.stage_times import intervals_by_stage
from batches.services.standing import differing, refold
from tests import factories as make

pytestmark = pytest.mark.django_db
WEEKS = st.sampled_from([(44, 10), (53, 9), (53, 53), (1, 1), (20, 30), (1, 52), (50, 2)])
SMALL = settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
FIRST = date(2024, 9, 2)


@contextmanager
def taken_back() -> Iterator[None]:
    """Take an example's records back, so that the next one starts from nothing."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def stages_known() -> list[tuple[object, ...]]:
    """Return what every tray's looks have proved."""
    names = ("stage", "stage_not_before", "stage_seen_on", "last_close_look_on")
    return list(Tray.objects.order_by("pk").values_list(*names))


def week_of(day: date) -> int:
    """Return the ISO week, by the C library's calendar."""
    return int(day.strftime("%V"))


def rests(day: date, weeks: tuple[int, int]) -> bool:
    first, last = weeks
    week = week_of(day)
    return first <= week <= last if first <= last else week >= first or week <= last


@SMALL
@given(
    weeks=WEEKS,
    days=st.lists(st.tuples(st.integers(1, 600), st.booleans()), min_size=1, max_size=5),
    potted_after=st.integers(1, 700),
)
def test_a_rest_makes_nobody_late_and_no_duration_negative(weeks, days, potted_after):
    with taken_back():
        fern = make.TaxonFactory(rest_from_week=weeks[0], rest_to_week=weeks[1])
        lot = make.SporeLotFactory(source=make.SourceFactory(taxon=fern))
        batch = make.BatchFactory(spore_lot=lot, started_on=FIRST)
        plugs = make.TrayFactory(batch=batch, cells_of_84=True, counted=84)
        refold(trays=[plugs], recorded_at=make.NOW)
        for day, glance in sorted(days):
            seen_at = make.at(FIRST + timedelta(days=day))
            record_check(tray=plugs, seen_at=seen_at, now=seen_at, by="", glance=glance)
        potted_on = FIRST + timedelta(days=potted_after)
        plugs.refresh_from_db()
        last_look = FIRST + timedelta(days=max(day for day, _ in days))
        for day in (last_look, last_look + timedelta(days=40), last_look + timedelta(days=170)):
            kinds = {line.kind for line in overdue_lines(on=day, today=day)}
            assert "stage" not in kinds or not rests(day, weeks)
        for due in (plugs.expected_on, plugs.late_on):
            assert due is None or (due > FIRST and not rests(due, weeks))
        pot_up(
            fillings=[Filling(takes=[Take(parent=plugs, left=84, arrived=84)], container="carrier",
                              pot_size="9 cm")],
            on=potted_on, by="", now=max(make.at(potted_on, 18), make.at(last_look, 18)),
        )  # fmt: skip
        rows = intervals_by_stage(on=potted_on + timedelta(days=900))
        assert rows
        for some in rows.values():
            for row in some:
                assert row.left >= 0
                assert row.right >= row.left
        assert differing()[1] == ()


@SMALL
@given(
    steps=st.lists(
        st.tuples(st.integers(0, 3), st.integers(0, 50), st.booleans()), min_size=1, max_size=8
    )
)
def test_a_glance_never_moves_a_not_before(steps):
    stages = ["", "gametophyte", "first_frond"]
    with taken_back():
        trays = [make.TrayFactory() for _ in range(4)]
        refold(trays=trays, recorded_at=make.NOW)
        minute = 0
        for which, day, glance in steps:
            minute += 1
            seen_at = make.at(make.STARTED_ON + timedelta(days=day)) + timedelta(minutes=minute)
            if glance:
                before = stages_known()
                record_glance(trays=trays, seen_at=seen_at, now=make.NOW, by="")
                assert stages_known() == before
                continue
            tray = Tray.objects.get(pk=trays[which].pk)
            here = stages.index(tray.stage) if tray.stage in stages else 0
            record_check(tray=tray, seen_at=seen_at, now=make.NOW, by="", correction=True,
                         stage_seen=stages[min(here + 1, 2)])  # fmt: skip


def test_more_out_than_in_is_refused_and_nothing_is_stored():
    mat = make.TrayFactory(start_stage="sown", unit="patches", counted=84)
    with pytest.raises(LedgerDoesNotBalance, match="more would have left"):
        prick_out(
            fillings=[Filling(takes=[Take(parent=mat, left=85, arrived=200)], container="cells")],
            on=make.TODAY, by="", now=make.NOW,
        )  # fmt: skip
    assert Tray.objects.count() == 1


def test_nothing_arrives_in_a_tray_of_another_batch():
    mat, other = make.TrayFactory(counted=84), make.TrayFactory(cells_of_84=True, counted=10)
    with pytest.raises(NotPossibleNow, match="never put together"):
        prick_out(
            fillings=[Filling(takes=[Take(parent=mat, left=5)], into=other)],
            on=make.TODAY, by="", now=make.NOW,
        )  # fmt: skip
    other.refresh_from_db()
    assert other.alive == 10
