"""A small nursery as a records folder, to be changed cell by cell.

Everything is written by the csv module of the standard library, not by the program's own writer.
"""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

#: the moment of all imports: Wednesday 25 November 2026, 09:00
NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)

Rows = list[dict[str, str]]

IN_1 = "3a000000-0000-4000-8000-000000000001"
OUT_1 = "3a000000-0000-4000-8000-000000000002"
LOSS_1 = "3a000000-0000-4000-8000-000000000003"
WRONG_1 = "3a000000-0000-4000-8000-000000000004"
STRIKE_1 = "3a000000-0000-4000-8000-000000000005"
LOOKS = [f"1a000000-0000-4000-8000-00000000000{n}" for n in range(1, 7)]


def small() -> dict[str, Rows]:
    """Return a nursery of two batches with a picked mat, an order, losses and a strike-out."""
    return {
        "taxa": [
            {
                "code": "DRYFIL",
                "genus": "Dryopteris",
                "species": "filix-mas",
                "spore_kind": "not_green",
                "common_name": "male fern",
                "routes": "spore division",
                "notes": "=SUM(A1:A9)",
            },
            {
                "code": "OSMREG-CRI",
                "genus": "Osmunda",
                "species": "regalis",
                "cultivar": "Cristata",
                "spore_kind": "green",
                "rest_from_week": "45",
                "rest_to_week": "9",
            },
            {
                "code": "ASPBUL",
                "genus": "Asplenium",
                "species": "bulbiferum",
                "spore_kind": "not_green",
                "routes": "bulbil",
            },
        ],
        "sources": [
            {
                "code": "PL-1",
                "taxon": "DRYFIL",
                "kind": "stock_plant",
                "provenance": "Z",
                "bench": "B1",
                "ripe_from_week": "28",
                "ripe_to_week": "33",
            },
            {
                "code": "PL-2",
                "taxon": "ASPBUL",
                "kind": "purchase",
                "provenance": "G",
                "supplier": "Tarnhow Young Plants",
            },
        ],
        "spore_lots": [
            {
                "code": "L25-001-X",
                "taxon": "DRYFIL",
                "source": "PL-1",
                "collected_on": "2025-08-04",
                "collected_by": "Orla Fennick",
                "method": "fronds in paper",
                "mass_mg": "12.5",
                "notes": 'two fronds,\n"ripe"; dried\r\non paper',
            },
        ],
        "germination_tests": [
            {
                "lot": "L25-001-X",
                "sown_on": "2025-09-01",
                "counted_on": "2025-09-22",
                "counted": "200",
                "germinated": "171",
            },
            {
                "lot": "L25-001-X",
                "sown_on": "2025-09-01",
                "counted_on": "2025-09-22",
                "counted": "200",
                "germinated": "171",
            },
            {
                "lot": "L25-001-X",
                "sown_on": "2025-09-01",
                "counted_on": "2025-09-22",
                "counted": "100",
                "germinated": "90",
            },
        ],
        "media_batches": [
            {
                "code": "M1",
                "recipe": "peat:2 fine bark:1.5",
                "treatment": "steamed",
                "temperature_c": "65",
                "minutes": "30",
                "made_on": "2026-01-04",
                "litres": "40",
            },
        ],
        "houses": [{"code": "MIST", "name": "Mist house"}],
        "benches": [
            {"code": "B1", "house": "MIST", "rows": "4", "columns": "10", "walk_order": "1"}
        ],
        "batches": [
            {
                "code": "SET-A",
                "taxon": "DRYFIL",
                "route": "spore",
                "spore_lot": "L25-001-X",
                "source": "PL-1",
                "media_batch": "M1",
                "started_on": "2026-01-05",
                "notes": "'quoted'",
            },
            {"code": "SET-B", "taxon": "ASPBUL", "route": "bulbil", "started_on": "2026-02-02"},
        ],
        "trays": [
            {
                "code": "A.1",
                "batch": "SET-A",
                "container": "covered tray",
                "started_on": "2026-01-05",
                "start_stage": "sown",
                "bench": "B1",
                "row": "1",
                "column": "2",
                "cover": "closed",
            },
            {
                "code": "A.2",
                "batch": "SET-A",
                "container": "cell tray 84",
                "cells": "84",
                "started_on": "2026-09-01",
                "start_stage": "pricked_out",
                "quantity": "80",
                "parents": "A.1",
                "container_state": "new",
                "label_printed_on": "2026-08-31",
            },
            {
                "code": "B.1",
                "batch": "SET-B",
                "container": "covered tray",
                "started_on": "2026-02-02",
                "start_stage": "pegged_down",
                "quantity": "24",
                "isolated": "yes",
            },
            {
                "code": "A.0",
                "batch": "SET-A",
                "container": "covered tray",
                "started_on": "2026-01-05",
                "start_stage": "sown",
                "control": "yes",
                "ended_on": "2026-06-01",
                "end": "discarded",
                "end_cause": "surplus",
            },
        ],
        "checks": [
            {
                "id": LOOKS[0],
                "tray": "A.1",
                "seen_at": "2026-01-19T09:10:00+00:00",
                "by": "Orla Fennick",
                "recorded_at": "2026-01-19T09:10:03.250000+00:00",
                "device": "Mist",
                "device_seq": "7",
                "source": "tablet",
            },
            {
                "id": LOOKS[1],
                "tray": "A.1",
                "seen_at": "2026-02-02T09:00:00+00:00",
                "by": "Orla Fennick",
                "stage_seen": "gametophyte",
                "signs": "mould heart_shapes",
                "opened": "yes",
                "note": "+ a grey web, near corner",
            },
            {
                "id": LOOKS[2],
                "tray": "A.1",
                "seen_at": "2026-07-06T10:30:00+01:00",
                "by": "Bram",
                "stage_seen": "first_frond",
            },
            {
                "id": LOOKS[3],
                "tray": "A.2",
                "seen_at": "2026-09-14T10:30:00+01:00",
                "by": "Bram",
                "count": "82",
                "about": "yes",
            },
            {
                "id": LOOKS[4],
                "tray": "B.1",
                "seen_at": "2026-03-01T08:00:00+00:00",
                "by": "Bram",
                "glance": "yes",
            },
            {
                "id": LOOKS[5],
                "tray": "A.1",
                "seen_at": "2026-07-06T10:30:00+01:00",
                "by": "Bram",
                "strikes_out": LOOKS[2],
                "note": "wrong tray",
            },
        ],
        "movements": [
            {
                "id": IN_1,
                "tray": "B.1",
                "on": "2026-02-02",
                "kind": "in",
                "quantity": "24",
                "by": "Bram",
            },
            {
                "id": OUT_1,
                "tray": "A.1",
                "on": "2026-09-01",
                "kind": "out",
                "quantity": "42",
                "arrived": "84",
                "to_tray": "A.2",
            },
            {
                "id": LOSS_1,
                "tray": "A.2",
                "on": "2026-09-14",
                "kind": "loss",
                "quantity": "4",
                "cause": "rot",
            },
            {"id": WRONG_1, "tray": "A.2", "on": "2026-09-15", "kind": "loss", "quantity": "40"},
            {
                "id": STRIKE_1,
                "tray": "A.2",
                "on": "2026-09-15",
                "kind": "loss",
                "quantity": "40",
                "strikes_out": WRONG_1,
            },
        ],
        "orders": [
            {
                "code": "R1",
                "taxon": "DRYFIL",
                "quantity": "200",
                "pot_size": "9 cm",
                "wanted_on": "2027-04-01",
                "customer": "-Pellow & Daughters",
            },
        ],
        "treatments": [
            {
                "id": "7a000000-0000-4000-8000-000000000001",
                "done_at": "2026-05-01T18:00:00+01:00",
                "product": "Biological control, nematodes",
                "place_or_trays": "MIST B1",
                "operator": "Petra Lowmoor",
                "reentry_hours": "0",
            },
        ],
        "house_readings": [
            {"house": "MIST", "on": "2026-01-06", "lowest_c": "-1.5", "highest_c": "9"},
            {"house": "MIST", "on": "2026-01-07", "lowest_c": "2"},
        ],
    }


def csv_text(rows: Rows, *, separator: str = ",", end: str = "\n") -> str:
    """Return rows as CSV: every column that any row names, in the order of first naming."""
    columns = list(dict.fromkeys(name for row in rows for name in row))
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, columns, restval="", delimiter=separator, lineterminator=end)
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def write(folder: Path, files: dict[str, Any]) -> Path:
    """Write files into a new folder: rows by file name without .csv, or text or bytes as it is."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in files.items():
        path = folder / (name if "." in name else f"{name}.csv")
        if isinstance(rows, bytes):
            path.write_bytes(rows)
        else:
            text = rows if isinstance(rows, str) else csv_text(rows)
            path.write_text(text, encoding="utf-8", newline="")
    return folder


def read_all(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder."""
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def read_rows(folder: Path, name: str) -> Rows:
    """Return the rows of an exported file, read by the standard library."""
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
