"""Is an export whole, of one moment, and never half there?"""

from __future__ import annotations

import sqlite3
import zipfile

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.models import GerminationTest, House, SporeLot
from batches.services.records_io import CannotWrite, export_records, writing
from batches.services.records_io.columns import FILES
from tests.services.records_io.folders import NOW, read_all, read_rows, small

NAMES = sorted([file.file_name for file in FILES] + ["datapackage.json"])


@pytest.mark.django_db
def test_an_empty_nursery_is_seventeen_files_of_headers(tmp_path):
    counts = export_records(path=tmp_path / "out", now=NOW)
    assert set(counts.values()) == {0}
    assert sorted(read_all(tmp_path / "out")) == NAMES
    assert (tmp_path / "out" / "houses.csv").read_bytes() == b"code,name\n"


@pytest.mark.django_db
def test_a_zip_holds_what_a_folder_holds(take_in, tmp_path):
    take_in(small())
    counts = export_records(path=tmp_path / "a" / "out.ZIP", now=NOW)
    assert counts == export_records(path=tmp_path / "b", now=NOW)
    with zipfile.ZipFile(tmp_path / "a" / "out.ZIP") as packed:
        assert packed.testzip() is None
        assert {name: packed.read(name) for name in packed.namelist()} == read_all(tmp_path / "b")
        assert packed.infolist()[0].date_time == (2026, 11, 25, 9, 0, 0)
    assert counts["checks.csv"] == 6


@pytest.mark.django_db
def test_other_files_of_the_folder_are_left_alone(take_in, tmp_path):
    (tmp_path / "letter.txt").write_text("x")
    (tmp_path / "taxa.csv").write_text("old")
    take_in(small())
    export_records(path=tmp_path, now=NOW)
    assert (tmp_path / "letter.txt").read_text() == "x"
    assert len(read_rows(tmp_path, "taxa")) == 3


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["out", "out.zip"])
@pytest.mark.parametrize("at", [1, 6, 16])
def test_a_disk_that_fills_leaves_what_stood_there(take_in, tmp_path, monkeypatch, name, at):
    take_in(small())
    place = tmp_path / "exports"
    export_records(path=place / name, now=NOW)

    def everything() -> dict[str, bytes]:
        found = (path for path in place.rglob("*") if path.is_file())
        return {str(path): path.read_bytes() for path in found}

    before = everything()
    House.objects.create(code="NEW")
    written = 0
    original = writing._write_file

    def full(file, out):
        nonlocal written
        written += 1
        if written == at:
            raise OSError(28, "No space left on device")
        return original(file, out)

    monkeypatch.setattr(writing, "_write_file", full)
    with pytest.raises(CannotWrite, match="No space left on device"):
        export_records(path=place / name, now=NOW)
    assert everything() == before


@pytest.mark.django_db
def test_a_place_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(CannotWrite, match="could not be written to"):
        export_records(path=tmp_path / "file" / "out", now=NOW)


@pytest.mark.django_db
def test_a_germination_test_that_waits_is_not_written(take_in, write_out):
    take_in(small())
    GerminationTest.objects.create(
        lot=SporeLot.objects.get(), sown_on="2026-11-01", recorded_at=NOW
    )
    assert len(read_rows(write_out(), "germination_tests")) == 3


@pytest.mark.django_db
def test_queries_do_not_grow_with_the_rows(take_in, tmp_path):
    take_in(small())
    with CaptureQueriesContext(connection) as few:
        export_records(path=tmp_path / "few", now=NOW)
    House.objects.bulk_create(House(code=f"H{n}") for n in range(50))
    with CaptureQueriesContext(connection) as more:
        export_records(path=tmp_path / "more", now=NOW)
    assert len(few) == len(more)


@pytest.mark.sqlite_only
def test_an_export_is_of_one_moment_and_keeps_no_writer_waiting(data_folder, tmp_path):
    """Another process writes between two files; the later file does not show it."""
    folder = tmp_path / "in"
    folder.mkdir()
    (folder / "houses.csv").write_text("code,name\nMIST,\n")
    data_folder.command("import_records", str(folder))
    script = tmp_path / "slow_export.py"
    script.write_text(SLOW_EXPORT, encoding="utf-8")
    database = data_folder.data / "nursery.sqlite3"
    code = f"exec(open({str(script)!r}).read())"
    data_folder.environment |= {"OUT": str(tmp_path / "out"), "DATABASE": str(database)}
    data_folder.command("shell", "--no-imports", "--command", code)
    with sqlite3.connect(database) as now:
        assert now.execute("SELECT count(*) FROM batches_bench").fetchone() == (1,)
    assert read_rows(tmp_path / "out", "houses") == [{"code": "MIST", "name": ""}]
    assert read_rows(tmp_path / "out", "benches") == []


SLOW_EXPORT = """
import os, sqlite3
from pathlib import Path
from django.utils import timezone
from batches.services.records_io import writing

original = writing._write_file

def interrupted(file, out):
    if file.name == "benches":
        other = sqlite3.connect(os.environ["DATABASE"], timeout=0)
        other.execute("INSERT INTO batches_bench (code, name, house_id) SELECT 'B1', '', id FROM batches_house")
        other.commit()
        other.close()
    return original(file, out)

writing._write_file = interrupted
writing.export_records(path=Path(os.environ["OUT"]), now=timezone.now())
"""  # noqa: E501
