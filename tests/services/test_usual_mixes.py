"""Is a fern's usual mix what a plain walk through all trays says?"""

from __future__ import annotations

import random
from collections import Counter
from datetime import timedelta

import pytest

from batches.core.stages import Stage
from batches.models import Tray
from batches.services.usual_mixes import usual_mixes
from tests.factories import TODAY, BatchFactory, MediumBatchFactory, TrayFactory

pytestmark = pytest.mark.django_db
RECIPES = ("bark:1 peat:1", "peat:2 perlite:1", "peat:3 grit:1")


def test_against_a_walk_through_all_trays(django_assert_num_queries):
    chance = random.Random(11)
    mixings = [MediumBatchFactory(recipe=chance.choice(RECIPES)) for _ in range(6)]
    batches = [BatchFactory() for _ in range(4)]
    batches += [BatchFactory(taxon=one.taxon) for one in batches[:2]]
    for _ in range(70):
        TrayFactory(
            batch=chance.choice(batches),
            started_on=TODAY - timedelta(days=chance.randint(0, 25)),
            start_stage=chance.choice(("sown", "pricked_out", "potted_up")),
            medium_batch=chance.choice((*mixings, None)),
        )
    last: dict[tuple[int, Stage], tuple[object, str]] = {}
    used: dict[Stage, Counter[str]] = {}
    for tray in Tray.objects.exclude(start_stage="sown"):
        if tray.medium_batch is None:
            continue
        stage, recipe = Stage(tray.start_stage), tray.medium_batch.recipe
        key = (tray.batch.taxon_id, stage)
        last[key] = max(last.get(key, (tray.started_on, recipe)), (tray.started_on, recipe))
        used.setdefault(stage, Counter())[recipe] += 1
    with django_assert_num_queries(1):
        found = usual_mixes()
    assert found.last == {key: recipe for key, (_, recipe) in last.items()}
    for stage, counts in used.items():
        assert counts[found.most[stage]] == max(counts.values())


def test_a_fern_without_a_mix_gets_the_one_most_used():
    rare, common = (MediumBatchFactory(recipe=recipe) for recipe in RECIPES[:2])
    for mixing in (rare, common, common):
        TrayFactory(start_stage="potted_up", medium_batch=mixing)
    other = BatchFactory().taxon_id
    assert usual_mixes().of(other, Stage.POTTED_UP) == RECIPES[1]
    assert usual_mixes().of(other, Stage.PRICKED_OUT) == ""
