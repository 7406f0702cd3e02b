"""Does a passage come from the right stage, though the files do not say which?"""

from __future__ import annotations

from datetime import timedelta

import pytest

from batches.models import StageTransition, Tray, TrayCheck
from batches.services.checks import record_check
from batches.services.days import local_day
from batches.services.records_io import export_records, import_records
from batches.services.refits import refit
from batches.services.strikes import strike_out
from tests import factories as make
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import read_all

pytestmark = pytest.mark.django_db

LATER = make.NOW + timedelta(days=1)


def look(tray: Tray, day: int, hour: int = 9, **more):
    seen = make.at(make.TODAY - timedelta(days=day), hour)
    result = record_check(tray=tray, seen_at=seen, now=seen, by="Una Tarn", **more)
    tray.refresh_from_db()
    return result.check


def passages() -> set[tuple[object, ...]]:
    return set(
        StageTransition.objects.standing().values_list(
            "id", "from_stage", "to_stage", "not_before", "seen_on", "derived"
        )
    )


def there_and_back(tmp_path, tray: Tray) -> None:
    """Export, import into an empty nursery: the same passages and the same stage."""
    columns = ["stage", "stage_not_before", "stage_seen_on", "last_look_on", "due_on", "late_on"]
    refit(on=local_day(LATER), now=LATER)
    export_records(path=tmp_path / "out", now=LATER)
    before, stage = passages(), Tray.objects.values_list(*columns).get(code=tray.code)
    empty_nursery()
    assert not import_records(path=tmp_path / "out", now=LATER, by="").errors
    assert passages() == before
    assert Tray.objects.values_list(*columns).get(code=tray.code) == stage
    export_records(path=tmp_path / "again", now=LATER)
    assert read_all(tmp_path / "out") == read_all(tmp_path / "again")


@pytest.fixture
def tray(db):
    return make.TrayFactory(counted=None)


def test_a_correction_on_a_later_day_goes_back(tmp_path, tray):
    look(tray, 40, stage_seen="gametophyte")
    look(tray, 20, stage_seen="first_frond")
    look(tray, 10, stage_seen="gametophyte", correction=True)
    assert tray.stage == "gametophyte"
    there_and_back(tmp_path, tray)


@pytest.mark.parametrize("hours", [(9, 10), (10, 10)])
def test_a_correction_on_the_day_of_the_mistake_goes_back(tmp_path, tray, hours):
    look(tray, 40, stage_seen="gametophyte")
    look(tray, 20, hours[0], stage_seen="first_frond")
    look(tray, 20, hours[1], stage_seen="gametophyte", correction=True)
    there_and_back(tmp_path, tray)


def test_a_struck_out_look_and_what_it_proved_stay_struck(tmp_path, tray):
    wrong = look(tray, 40, stage_seen="first_frond")
    strike_out(row=wrong, by="Maeve Corrin", now=make.NOW)
    look(tray, 30, stage_seen="gametophyte")
    look(tray, 20, stage_seen="first_frond")
    there_and_back(tmp_path, tray)


def test_a_correction_after_a_correction(tmp_path, tray):
    look(tray, 50, stage_seen="first_frond")
    look(tray, 40, stage_seen="gametophyte", correction=True)
    look(tray, 30, stage_seen="first_frond")
    look(tray, 20, stage_seen="sown", correction=True)
    look(tray, 10, stage_seen="gametophyte")
    there_and_back(tmp_path, tray)


def files(*passed: tuple[str, str], looks: tuple[tuple[str, str], ...] = ()):
    """Return a tray with stated passages (stage, day) and looks (stage, day) as files."""
    found = {
        "taxa": [{"code": "X", "genus": "Blechnum", "spore_kind": "not_green"}],
        "batches": [{"code": "B", "taxon": "X", "route": "spore", "started_on": "2026-01-05"}],
        "trays": [{"code": "T", "batch": "B", "container": "tray", "started_on": "2026-01-05",
                   "start_stage": "sown"}],
        "checks": [
            {"tray": "T", "seen_at": f"{day}T10:00:00Z", "by": "Una", "stage_seen": stage, "id": ""}
            for stage, day in looks
        ],
        "transitions": [
            {"id": "", "tray": "T", "to_stage": stage, "seen_on": day, "by": "Una"}
            for stage, day in passed
        ],
    }  # fmt: skip
    return {name: rows for name, rows in found.items() if rows}


def stages() -> list[tuple[str, str, bool]]:
    rows = StageTransition.objects.standing().order_by("seen_on", "derived")
    return list(rows.values_list("from_stage", "to_stage", "derived"))


def test_a_stated_passage_comes_from_the_stage_before(take_in):
    assert not take_in(files(("gametophyte", "2026-03-02"), ("pricked_out", "2026-09-01"))).errors
    assert [row for row in stages() if not row[2]] == [
        ("sown", "gametophyte", False),
        ("first_frond", "pricked_out", False),
    ]


def test_a_stated_step_back_is_one_though_only_looks_say_where_the_tray_was(take_in):
    looks = (("gametophyte", "2026-03-02"), ("first_frond", "2026-05-04"))
    assert not take_in(files(("gametophyte", "2026-05-11"), looks=looks)).errors
    assert stages()[-1] == ("first_frond", "gametophyte", False)
    assert Tray.objects.get().stage == "gametophyte"


def test_a_passage_stated_on_the_day_of_its_look_goes_on(take_in):
    looks = (("gametophyte", "2026-03-02"),)
    assert not take_in(files(("gametophyte", "2026-03-02"), looks=looks)).errors
    assert stages() == [("sown", "gametophyte", False)]


def test_rows_added_to_a_stored_tray_follow_what_is_stored(take_in):
    take_in(files(looks=(("first_frond", "2026-05-04"),)))
    later = {"transitions": files(("sown", "2026-06-01"))["transitions"]}
    assert not take_in(later).errors
    assert stages()[-1] == ("first_frond", "sown", False)
    assert TrayCheck.objects.count() == 1


def test_a_passage_to_the_stage_it_started_in_changes_nothing(take_in):
    assert not take_in(files(("sown", "2026-01-05"))).errors
    assert Tray.objects.get().stage == "sown"
