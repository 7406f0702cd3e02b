"""Does everything that goes in come out, and go in again exactly?"""

from __future__ import annotations

import pytest

from batches.models import Parentage, PlantMovement, StageTransition, Tray, TrayCheck
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import IN_1, LOOKS, read_all, read_rows, small

pytestmark = pytest.mark.django_db


def test_a_small_nursery_is_stored_as_written(take_in):
    result = take_in(small())
    assert [str(e) for e in result.errors] == []
    assert result.counts["trays.csv"] == 4
    assert result.counts["checks.csv"] == 6
    assert result.counts["places.csv"] == 0
    tray = Tray.objects.get(code="A.2")
    assert (tray.alive, tray.stage, tray.bench) == (80, "pricked_out", None)
    assert Parentage.objects.get().parent.code == "A.1"
    mat = Tray.objects.get(code="A.1")
    assert mat.bench is not None
    assert (mat.stage, mat.alive, mat.bench.code, mat.row, mat.column) == (
        "first_frond", None, "B1", 1, 2,
    )  # fmt: skip
    look = TrayCheck.objects.get(id=LOOKS[1])
    assert (look.signs, look.opened, look.note) == (
        "mould heart_shapes", True, "+ a grey web, near corner",
    )  # fmt: skip
    assert TrayCheck.objects.standing().filter(tray=mat).count() == 2
    assert PlantMovement.objects.get(id=IN_1).quantity == 24
    assert StageTransition.objects.standing().filter(tray=mat, to_stage="gametophyte").exists()


def test_import_export_import_export_gives_identical_files(take_in, write_out):
    assert not take_in(small()).errors
    first = read_all(write_out())
    empty_nursery()
    assert not take_in(first).errors
    second = read_all(write_out())
    assert first == second
    assert len(first) == 17


def test_an_export_imported_where_it_came_from_changes_nothing(take_in, write_out):
    take_in(small())
    first = read_all(write_out())
    result = take_in(first)
    assert [str(e) for e in result.errors] == []
    assert sum(result.counts.values()) == 0
    assert read_all(write_out()) == first


def test_the_same_folder_twice_is_stored_once(take_in, write_out):
    files = small()
    for name in ("checks", "movements", "treatments"):
        for row in files[name]:
            if "strikes_out" not in row and row["id"] not in {LOOKS[2]}:
                row["id"] = ""
    files["movements"] = [row for row in files["movements"] if row["quantity"] != "40"]
    assert not take_in(files).errors
    first = read_all(write_out())
    result = take_in(files)
    assert not result.errors
    assert sum(result.counts.values()) == 0
    assert result.already["germination_tests.csv"] == 3
    assert read_all(write_out()) == first


def test_what_is_written_is_what_was_read(take_in, write_out):
    take_in(small())
    folder = write_out()
    fern = read_rows(folder, "taxa")[1]
    assert (fern["code"], fern["notes"]) == ("DRYFIL", "'=SUM(A1:A9)")
    assert read_rows(folder, "batches")[0]["notes"] == "'quoted'"
    assert read_rows(folder, "spore_lots")[0]["notes"] == 'two fronds,\n"ripe"; dried\r\non paper'
    assert read_rows(folder, "orders")[0]["customer"] == "'-Pellow & Daughters"
    assert read_rows(folder, "house_readings")[0]["lowest_c"] == "-1.5"
    assert read_rows(folder, "trays")[0]["code"] == "A.0"
    looks = read_rows(folder, "checks")
    assert looks[0]["recorded_at"] == "2026-01-19T09:10:03.250000+00:00"
    assert [look["seen_at"] for look in looks] == sorted(look["seen_at"] for look in looks)
    assert read_rows(folder, "places") == [
        {
            "id": read_rows(folder, "places")[0]["id"], "tray": "A.1", "on": "2026-01-05",
            "bench": "B1", "row": "1", "column": "2", "by": "Greta Lunn", "strikes_out": "",
        }
    ]  # fmt: skip
