"""Is the shared cause of failing trays found, and innocents left alone?"""

from __future__ import annotations

import random
from datetime import timedelta

import pytest

from batches.core.errors import NotUnderstood
from batches.services.failing_trays import what_trays_share
from tests.factories import (
    TODAY,
    BatchFactory,
    BenchFactory,
    MediumBatchFactory,
    PlantMovementFactory,
    TrayCheckFactory,
    TrayFactory,
    at,
)

pytestmark = pytest.mark.django_db
SINCE = TODAY - timedelta(days=30)


def nursery(*, bad_share: float):
    """Twenty-four batches of three trays in six media, one of which may be bad."""
    chance = random.Random(5)
    media = [MediumBatchFactory() for _ in range(6)]
    benches = [BenchFactory() for _ in range(3)]
    for number in range(24):
        medium = media[number % 6]
        batch = BatchFactory(medium_batch=medium)
        for _ in range(3):
            one = TrayFactory(batch=batch, bench=chance.choice(benches))
            sick = chance.random() < (bad_share if medium is media[2] else 0.05)
            seen = at(TODAY - timedelta(days=chance.randint(1, 20)))
            TrayCheckFactory(tray=one, seen_at=seen, signs="mould" if sick else "")
    return media[2]


def test_a_bad_medium_stands_first():
    bad = nursery(bad_share=0.9)
    found = what_trays_share(sign="mould", since=SINCE, on=TODAY).found
    first = found.lines[0]
    told = {(first.factor, first.value), *first.cannot_be_told_apart}
    assert ("media_batch", bad.code) in told
    assert first.affected > 8
    assert first.stands_out
    assert bad.code in found.sentence


def test_nothing_stands_out_is_an_answer():
    nursery(bad_share=0.05)
    found = what_trays_share(sign="mould", since=SINCE, on=TODAY).found
    assert found.named == ()
    assert found.sentence


def test_the_same_records_give_the_same_answer():
    nursery(bad_share=0.5)
    first, second = (what_trays_share(sign="mould", since=SINCE, on=TODAY) for _ in range(2))
    assert first == second


def test_trays_that_showed_it_before_are_in_neither_heap_and_glances_show_nothing():
    before, glanced, well, sick = (TrayFactory() for _ in range(4))
    TrayCheckFactory(tray=before, seen_at=at(SINCE - timedelta(days=5)), signs="mould")
    TrayCheckFactory(tray=before, seen_at=at(TODAY), signs="mould")
    TrayCheckFactory(tray=glanced, seen_at=at(TODAY), glance=True)
    TrayCheckFactory(tray=well, seen_at=at(TODAY))
    TrayCheckFactory(tray=sick, seen_at=at(TODAY), signs="mould")
    found = what_trays_share(sign="mould", since=SINCE, on=TODAY).found
    assert (found.trays, found.affected) == (2, 1)


def test_a_cause_of_loss_counts_like_a_sign_and_the_trays_own_medium_is_used():
    own, usual = MediumBatchFactory(), MediumBatchFactory()
    for place in range(8):
        batch = BatchFactory(medium_batch=usual)
        sick = TrayFactory(batch=batch, medium_batch=own, counted=9)
        TrayCheckFactory(tray=TrayFactory(batch=batch), seen_at=at(TODAY))
        PlantMovementFactory(
            tray=sick, on=TODAY - timedelta(days=place), kind="loss", quantity=3, cause="damaged"
        )
    found = what_trays_share(sign="damaged", since=SINCE, on=TODAY).found
    values = {
        pair
        for line in found.lines
        if line.affected
        for pair in ((line.factor, line.value), *line.cannot_be_told_apart)
    }
    assert ("media_batch", own.code) in values


def test_an_unknown_word_is_refused_in_words():
    with pytest.raises(NotUnderstood, match="neither a trouble"):
        what_trays_share(sign="gremlins", since=SINCE, on=TODAY)
