"""Do the factories make whole, consistent records?"""

from __future__ import annotations

import pytest

from batches.core.stages import Stage
from batches.models import CodeEntry, Place, PlantMovement
from batches.services.codes import find_code
from tests import factories as make

pytestmark = pytest.mark.django_db


def test_a_made_tray_stands_in_its_routes_first_stage_with_its_code_in_the_register():
    tray = make.TrayFactory()
    pots = make.TrayFactory(batch=make.BatchFactory(bulbil=True))

    assert (tray.stage, pots.stage) == (Stage.SOWN, Stage.PEGGED_DOWN)
    assert find_code(tray.code).obj == tray
    assert tray.batch.taxon == tray.batch.spore_lot.taxon == tray.batch.spore_lot.source.taxon
    assert CodeEntry.objects.get(code=tray.batch.spore_lot.code).kind == "lot"


def test_a_counted_tray_on_a_bench_has_its_row_of_the_stock_book_and_its_place():
    bench = make.BenchFactory()
    tray = make.TrayFactory(cells_of_84=True, counted=84, bench=bench, row=1, column=2)

    assert PlantMovement.objects.get().quantity == tray.alive == 84
    assert Place.objects.get().bench == bench


def test_every_factory_makes_a_row():
    for name in make.__all__:
        if name.endswith("Factory"):
            assert getattr(make, name)().pk is not None
