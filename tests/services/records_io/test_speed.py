"""Do many looks come in and go out whole, and what is the bare work of that?

How dear it is beside the bare work is measured by tests/bench/records.py. The floor: the same CSV
parsed with the same conversions of ids, times and whole numbers, and one bare executemany into a
table with the same indexes.
"""

from __future__ import annotations

import csv
import io
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection, transaction

from batches.models import Tray, TrayCheck
from batches.services.records_io import export_records, import_records
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import NOW, csv_text, small, write

pytestmark = [pytest.mark.django_db, pytest.mark.sqlite_only]

LOOKS = 20_000
COLUMNS = (
    "id", "by", "recorded_at", "seen_at", "seen_at_device", "device", "device_seq", "stage_seen",
    "count", "about", "signs", "opened", "glance", "note", "source", "device_ref_id", "person_id",
    "strikes_out_id", "tray_id",
)  # fmt: skip


def looks_text(how_many: int) -> str:
    rows = [
        {
            "id": str(uuid.UUID(int=number, version=4)),
            "tray": ("A.1", "A.2", "B.1")[number % 3],
            "seen_at": (NOW - timedelta(minutes=number + 60)).isoformat(),
            "by": "Bram Tolley",
            "stage_seen": "",
            "count": "80" if number % 7 == 0 else "",
            "signs": "mould" if number % 11 == 0 else "",
            "note": "Film beaded, surface still bare." if number % 3 == 0 else "",
            "strikes_out": "",
            "recorded_at": NOW.isoformat(),
            "device": "Mist house",
            "device_seq": str(number),
        }
        for number in range(how_many)
    ]
    return csv_text(rows)


def bare(text: str, trays: dict[str, int]) -> int:
    rows = []
    for row in csv.DictReader(io.StringIO(text, newline="")):
        seen = datetime.fromisoformat(row["seen_at"]).astimezone(UTC).replace(tzinfo=None)
        recorded = datetime.fromisoformat(row["recorded_at"]).astimezone(UTC).replace(tzinfo=None)
        rows.append(
            (
                uuid.UUID(row["id"]).hex,
                row["by"],
                str(recorded),
                str(seen),
                None,
                row["device"],
                int(row["device_seq"]),
                row["stage_seen"],
                int(row["count"]) if row["count"] else None,
                False,
                row["signs"],
                False,
                False,
                row["note"],
                "",
                None,
                None,
                None,
                trays[row["tray"]],
            )
        )
    marks = ", ".join(["%s"] * len(COLUMNS))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(
            f"INSERT INTO batches_traycheck ({', '.join(COLUMNS)}) VALUES ({marks})",  # noqa: S608
            rows,
        )
    return len(rows)


def nursery(folder: Path) -> dict[str, int]:
    empty_nursery()
    files = {name: rows for name, rows in small().items() if name != "checks"}
    assert not import_records(path=write(folder, files), now=NOW, by="").errors
    return dict(Tray.objects.values_list("code", "pk"))


def test_twenty_thousand_looks_come_in_as_by_bare_rows(tmp_path):
    text = looks_text(LOOKS)
    assert bare(text, nursery(tmp_path / "a")) == LOOKS
    folder = write(tmp_path / "looks", {"checks": text})
    nursery(tmp_path / "b")
    result = import_records(path=folder, now=NOW, by="")
    assert [str(error) for error in result.errors[:3]] == []
    assert TrayCheck.objects.count() == LOOKS
    export_records(path=tmp_path / "out", now=NOW)
    written = (tmp_path / "out" / "checks.csv").read_text(encoding="utf-8")
    assert written.count("\n") == LOOKS + 1
