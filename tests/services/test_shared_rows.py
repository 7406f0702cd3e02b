"""Do pages bear more batches than SQLite bears alternatives in one condition (a thousand)?

Source of that bound: https://sqlite.org/limits.html, maximum depth of an expression tree.
"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from batches.models import Batch, Bench, Tray
from batches.services.bench_map import house_plans
from batches.services.evidence import gather
from batches.services.map_filters import Filters
from batches.services.shared_rows import with_shared
from tests.factories import NOW, TODAY, BatchFactory, BenchFactory, TrayFactory
from tests.running_nursery import ROOT

pytestmark = pytest.mark.django_db

MANY = 1_050


@pytest.fixture
def bench():
    """A bench of 1,050 trays, each of a batch of its own."""
    one, here = BatchFactory(), BenchFactory(rows=30, columns=35)
    batches = Batch.objects.bulk_create(
        Batch(
            code=f"B-{n}", taxon=one.taxon, route="spore", spore_lot=one.spore_lot,
            started_on=TODAY - timedelta(days=40),
        )
        for n in range(MANY)
    )  # fmt: skip
    Tray.objects.bulk_create(
        Tray(
            code=f"T-{n}", batch=batch, container="covered tray", started_on=batch.started_on,
            stage_seen_on=batch.started_on, start_stage="sown", stage="sown", bench=here,
            row=n // 35 + 1, column=n % 35 + 1,
        )
        for n, batch in enumerate(batches)
    )  # fmt: skip
    return here


def test_the_map_and_what_is_reckoned_bear_more_than_a_thousand_batches(bench):
    (house,) = house_plans(today=TODAY, now=NOW, filters=Filters(), benches=[bench])
    assert house.benches[0].trays == MANY
    found = gather(list(Tray.objects.values_list("pk", flat=True)))
    assert len({one.tray.batch.code for one in found.values()}) == MANY


def test_trays_of_one_batch_share_it_and_one_that_stands_nowhere_has_no_bench(
    django_assert_num_queries,
):
    batch = BatchFactory()
    here, other = TrayFactory(batch=batch, bench=BenchFactory()), TrayFactory(batch=batch)
    with django_assert_num_queries(3):
        first, second = with_shared(
            Tray.objects.order_by("pk"), batch=Batch.objects.all(), bench=Bench.objects.all()
        )
        assert (first.batch, first.bench, second.bench) == (batch, here.bench, None)
    assert first.batch is second.batch
    assert (first.pk, second.pk) == (here.pk, other.pk)


def test_nothing_that_many_rows_name_is_prefetched():
    """What belongs to a row (a look's photos) may be: its rows are asked for by one list."""
    texts = [path.read_text("utf-8") for path in (ROOT / "batches").rglob("*.py")]
    asked = [found for text in texts for found in re.findall(r"\.prefetch_related\((.*?)\)", text)]
    assert set(asked) <= {'"photos"', '"germination_tests"'}
