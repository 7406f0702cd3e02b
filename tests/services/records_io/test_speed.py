"""Is an import of many looks not much dearer than the bare work that it cannot do without?

The floor: the same CSV parsed with the same conversions of ids, times and whole numbers, and one
bare executemany into a table with the same indexes. Processor time, so that a busy machine does
not decide. What any import costs, one look or many, is taken off.
"""

from __future__ import annotations

import csv
import io
import time
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
#: what the import may cost as a multiple of the floor; the benchmark, at full size and undisturbed,
#: holds 3
BAR = 3.5
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


def test_twenty_thousand_looks_cost_a_small_multiple_of_their_floor(tmp_path):
    text = looks_text(LOOKS)
    folder = write(tmp_path / "looks", {"checks": text})
    single = write(tmp_path / "look", {"checks": looks_text(1)})
    floors, ours, always = [], [], []
    for attempt in range(2):
        nursery(tmp_path / f"c{attempt}")
        began = time.process_time()
        import_records(path=single, now=NOW, by="")
        always.append(time.process_time() - began)
        trays = nursery(tmp_path / f"a{attempt}")
        began = time.process_time()
        assert bare(text, trays) == LOOKS
        floors.append(time.process_time() - began)
        nursery(tmp_path / f"b{attempt}")
        began = time.process_time()
        result = import_records(path=folder, now=NOW, by="")
        ours.append(time.process_time() - began)
        assert [str(error) for error in result.errors[:3]] == []
    assert TrayCheck.objects.count() == LOOKS
    cost = min(ours) - min(always)
    assert cost <= BAR * min(floors), f"{cost:.2f} s against {min(floors):.2f} s"


def test_they_are_written_again_in_less(tmp_path):
    nursery(tmp_path / "a")
    write(tmp_path / "looks", {"checks": looks_text(5_000)})
    import_records(path=tmp_path / "looks", now=NOW, by="")
    began = time.process_time()
    export_records(path=tmp_path / "out", now=NOW)
    assert time.process_time() - began < 5
