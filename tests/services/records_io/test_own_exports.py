"""Can whatever the program itself wrote down be taken in again, exactly?"""

from __future__ import annotations

import random
from datetime import date, timedelta
from pathlib import Path

import pytest

from batches.models import PlantMovement, StageTransition, Tray, TrayCheck
from batches.services.days import local_day
from batches.services.records_io import export_records, import_records
from batches.services.refits import refit
from batches.services.standing import differing
from tests import factories as make
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import read_all
from tests.services.test_deeds_in_any_order import WEIGHTS, Step, Walk
from tests.simulate.nursery import simulate
from tests.simulate.tables import write_folder

pytestmark = pytest.mark.django_db

LATER = make.NOW + timedelta(days=1)


def there_and_back(tmp_path: Path, *, now=LATER) -> None:
    """Export, import into an empty nursery, export: the same files, the same trays."""
    # An import reckons stage times anew at its end, so they are up to date before, too.
    refit(on=local_day(now), now=now)
    export_records(path=tmp_path / "first", now=now)
    columns = [f.name for f in Tray._meta.fields if f.name not in {"id", "revision"}]
    columns = [f"{name}__code" if name in {"batch", "bench", "medium_batch"} else name
               for name in columns]  # fmt: skip

    def state() -> tuple[object, ...]:
        return (
            set(Tray.objects.values_list(*columns)),
            set(TrayCheck.objects.standing().values_list("id", "seen_at", "recorded_at")),
            set(PlantMovement.objects.standing().values_list("id", "quantity", "tray__code")),
            set(
                StageTransition.objects.values_list(
                    "id", "from_stage", "to_stage", "derived", "strikes_out"
                )
            ),
        )

    before = state()
    empty_nursery()
    result = import_records(path=tmp_path / "first", now=now, by="Greta Lunn")
    assert [str(error) for error in result.errors] == []
    assert result.derived == {}
    export_records(path=tmp_path / "second", now=now)
    assert read_all(tmp_path / "first") == read_all(tmp_path / "second")
    for there, back in zip(before, state(), strict=True):
        assert there == back
    assert differing()[1] == ()


@pytest.mark.parametrize("seed", range(4))
def test_deeds_in_any_order_make_the_round_trip(tmp_path, seed):
    chance = random.Random(seed)
    walk = Walk()
    for _ in range(45):
        name = chance.choices(list(WEIGHTS), list(WEIGHTS.values()))[0]
        step = Step(chance.randrange(100), chance.randint(1, 45), chance.randint(0, 12))
        getattr(walk, f"do_{name}")(step)
    there_and_back(tmp_path)


def test_a_simulated_nursery_makes_the_round_trip(tmp_path):
    until = date(2026, 6, 9)
    records = simulate(seed=11, until=until, ferns=8, years=2.0, active_trays=25)
    folder = write_folder(records, tmp_path / "simulated")
    result = import_records(path=folder, now=LATER, by="")
    assert [str(error) for error in result.errors] == []
    assert Tray.objects.count() == len(records.trays)
    there_and_back(tmp_path)


def test_the_demo_nursery_is_taken_in(tmp_path):
    from batches.services import demo

    now = make.NOW + timedelta(days=365)
    folder = Path(demo.__file__).resolve().parents[2] / "demo_fixtures"
    result = import_records(path=folder, now=now, by="")
    assert [str(error) for error in result.errors] == []
    assert result.derived == {}
