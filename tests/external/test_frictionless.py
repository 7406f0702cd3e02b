"""Does another program understand the exported records by their descriptor alone?

*cross-implementation*: the frictionless library (Data Package and Table Schema, datapackage.org)
reads datapackage.json and judges every cell, key and reference by it. *cross-implementation*:
pandas reads the cells as a person with a script would.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from batches.services.records_io import export_records, import_records
from batches.services.records_io.columns import FILES, FORMAT_VERSION
from tests.services.records_io.folders import NOW, small, write

frictionless = pytest.importorskip("frictionless")
pytestmark = pytest.mark.django_db


@pytest.fixture
def exported(tmp_path: Path, db: None) -> Path:
    """A small nursery, imported and exported."""
    folder = write(tmp_path / "in", small())
    assert not import_records(path=folder, now=NOW, by="Greta Lunn").errors
    export_records(path=tmp_path / "out", now=NOW)
    return tmp_path / "out"


def faults(folder: Path) -> list[tuple[str, str]]:
    report = frictionless.validate(str(folder / "datapackage.json"))
    return [(type_, note) for type_, note in report.flatten(["type", "note"])]


def test_the_descriptor_and_every_row_are_valid(exported):
    report = frictionless.validate(str(exported / "datapackage.json"))
    assert faults(exported) == []
    rows = {task.name: task.stats["rows"] for task in report.tasks}
    assert set(rows) == {file.name for file in FILES}
    assert (rows["checks"], rows["trays"], rows["house_readings"]) == (6, 4, 2)


def test_an_empty_nursery_is_valid_too(tmp_path):
    export_records(path=tmp_path / "out", now=NOW)
    assert faults(tmp_path / "out") == []


@pytest.mark.parametrize(
    ("name", "old", "new", "kind"),
    [
        ("batches", "DRYFIL", "DRYFIX", "foreign-key"),
        ("trays", "A.2", "A.1", "primary-key"),
        ("trays", "closed", "shut", "constraint-error"),
        ("trays", "2026-09-01", "1/9/2026", "type-error"),
        ("checks", "mould heart_shapes", "mildew", "constraint-error"),
        ("movements", "42,84", "42,0", "constraint-error"),
        ("benches", "B1", "-B1", "constraint-error"),
    ],
)
def test_the_descriptor_tells_a_wrong_cell_from_a_right_one(exported, name, old, new, kind):
    path = exported / f"{name}.csv"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    assert kind in {type_ for type_, _ in faults(exported)}


def test_the_descriptor_names_the_format_its_keys_and_its_references(exported):
    described = json.loads((exported / "datapackage.json").read_text(encoding="utf-8"))
    assert described["version"] == FORMAT_VERSION
    package = frictionless.Package(str(exported / "datapackage.json"))
    trays = package.get_resource("trays").schema
    assert trays.primary_key == ["code"]
    assert {key["reference"]["resource"] for key in trays.foreign_keys} == {
        "batches", "benches", "media_batches",
    }  # fmt: skip
    strikes = package.get_resource("checks").schema.foreign_keys[-1]
    assert (strikes["fields"], strikes["reference"]["fields"]) == (["strikes_out"], ["id"])
    for file in FILES:
        with (exported / file.file_name).open(encoding="utf-8", newline="") as lines:
            header = next(csv.reader(lines))
        assert [field.name for field in package.get_resource(file.name).schema.fields] == header


def test_another_program_reads_the_types_that_were_meant(exported):
    package = frictionless.Package(str(exported / "datapackage.json"))
    looks = package.get_resource("checks").read_rows()
    assert looks[0]["seen_at"].isoformat() == "2026-01-19T09:10:00+00:00"
    assert looks[1]["opened"] is True
    lots = package.get_resource("spore_lots").read_rows()
    assert float(lots[0]["mass_mg"]) == 12.5
    assert lots[0]["notes"] == 'two fronds,\n"ripe"; dried\r\non paper'
    trays = package.get_resource("trays").read_rows()
    assert {row["code"]: row["quantity"] for row in trays} == {
        "A.0": None, "A.1": None, "A.2": 80, "B.1": 24,
    }  # fmt: skip


def test_a_table_program_reads_the_same_rows(exported):
    pandas = pytest.importorskip("pandas")
    for file in FILES:
        table = pandas.read_csv(exported / file.file_name, dtype=str, keep_default_na=False)
        with (exported / file.file_name).open(encoding="utf-8", newline="") as lines:
            rows = list(csv.reader(lines))
        assert [list(table.columns), *table.values.tolist()] == rows
