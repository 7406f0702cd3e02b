"""Are Today's lines in brief those that the whole lines are, and in the same order?"""

from __future__ import annotations

import random
from dataclasses import fields
from datetime import timedelta

import pytest

from batches.models import Taxon, Tray
from batches.services.cares import give_care, set_reminder
from batches.services.due_entries import DueEntry, due_entries, lines_of
from batches.services.overdue import overdue_lines
from tests.services.records_io.emptying import empty_nursery
from tests.simulate.at_scale import NOW, TODAY, Size, make_nursery

pytestmark = pytest.mark.django_db

SAME = [
    field.name for field in fields(DueEntry) if field.name not in {"line", "tray_pk", "lot"}
]  # fmt: skip


@pytest.fixture
def nursery():
    make_nursery(Size(trays=300, looks=2, ferns=6))
    # Every second fern rests: its trays are not late, and their looks are due later.
    Taxon.objects.filter(code__in=["F000", "F002"]).update(rest_from_week=44, rest_to_week=10)
    for care in ("wean", "feed", "slow_release"):
        set_reminder(route="spore", care=care, enabled=True)
    chance = random.Random(5)
    trays = list(Tray.objects.with_fern().exclude(stage="sown").order_by("pk"))
    for tray in chance.sample(trays, 40):
        day = TODAY - timedelta(days=chance.randint(0, 25))
        give_care(tray=tray, care=chance.choice(("feed", "slow_release")), on=day, by="", now=NOW)
    some = [tray.pk for tray in chance.sample(trays, 50)]
    Tray.objects.filter(pk__in=some).update(cover="closed")
    Tray.objects.filter(pk__in=some[:5]).update(control=True)


@pytest.mark.parametrize("days", [0, 3, 60, 400])
def test_in_brief_and_whole_they_are_the_same(nursery, days):
    on, now = TODAY + timedelta(days=days), NOW + timedelta(days=days)
    whole = overdue_lines(on=on, today=on, now=now)
    brief = due_entries(on=on, now=now)
    assert len(whole) > 5
    assert {line.care for line in whole if line.kind == "care"} == {"wean", "feed", "slow_release"}
    assert [[getattr(line, name) for name in (*SAME, "key")] for line in whole] == [
        [getattr(entry, name) for name in (*SAME, "key")] for entry in brief
    ]
    assert lines_of(entries=brief, on=on) == whole
    assert lines_of(entries=brief[2:5], on=on) == whole[2:5]


def test_queries_do_not_grow_with_the_trays(django_assert_max_num_queries):
    later = TODAY + timedelta(days=30)
    make_nursery(Size(trays=30, looks=2, ferns=2))
    with django_assert_max_num_queries(20) as few:
        lines_of(entries=due_entries(on=later, now=NOW), on=later)
    empty_nursery()
    make_nursery(Size(trays=300, looks=2, ferns=2))
    with django_assert_max_num_queries(len(few)):
        found = due_entries(on=later, now=NOW)
        lines_of(entries=found, on=later)
    assert len(found) >= 300
