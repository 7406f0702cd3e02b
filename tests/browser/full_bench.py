"""Which records make a bench of forty covered trays that are all due for a look?"""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

TRAYS = 40


def write_full_bench(folder: Path) -> None:
    """Write forty trays on bench B1, one on bench B3 and none on bench B2; all due for a look."""
    folder.mkdir()
    sown = datetime.now(UTC).date() - timedelta(days=10)
    looked = sown + timedelta(days=1)
    trays = [
        {"code": f"T-{n + 1:02}", "bench": "B1", "row": n // 8 + 1, "column": n % 8 + 1}
        for n in range(TRAYS)
    ]
    trays.append({"code": "U-01", "bench": "B3", "row": 1, "column": 1})
    for tray in trays:
        tray |= {"batch": "SOW-1", "container": "covered tray", "started_on": sown}
        tray |= {"start_stage": "sown", "unit": "patches", "cover": "closed"}
        tray |= {"label_printed_on": sown}
    tables: dict[str, list[dict[str, Any]]] = {
        "taxa": [
            {"code": "DRYFIL", "genus": "Dryopteris", "species": "filix-mas",
             "common_name": "male fern", "spore_kind": "not_green", "form": "fern"}
        ],
        "sources": [
            {"code": "P-1", "taxon": "DRYFIL", "kind": "stock_plant", "provenance": "Z"}
        ],
        "spore_lots": [
            {"code": "L-1", "taxon": "DRYFIL", "source": "P-1", "collected_on": sown,
             "cleaned_on": sown}
        ],
        "houses": [{"code": "H", "name": "Mist house"}],
        "benches": [
            {"code": f"B{n}", "house": "H", "rows": 5, "columns": 8, "walk_order": n}
            for n in (1, 2, 3)
        ],
        "batches": [
            {"code": "SOW-1", "taxon": "DRYFIL", "route": "spore", "spore_lot": "L-1",
             "started_on": sown}
        ],
        "trays": trays,
        "checks": [
            {"id": "", "tray": tray["code"], "seen_at": f"{looked}T09:00:00+00:00",
             "by": "Bryn Hale"}
            for tray in trays
        ],
    }  # fmt: skip
    for name, rows in tables.items():
        with (folder / f"{name}.csv").open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
