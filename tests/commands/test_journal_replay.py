"""Do the tablets heal a restored nursery: older records, and every journal offered again?

The backup and the restore are the real commands. What the tablets sent after the backup is gone
from the records; sent again, in another order, it ends as if nothing had failed.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import NAMESPACE_OID, uuid5

import pytest

from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

FILL = """
from tests.factories import NOW, BenchFactory, LaidOutTrayFactory, TrayFactory
from batches.services.standing import refold
bench = BenchFactory(code="B01", rows=3, columns=3)
mats = [TrayFactory(code=code, counted=80, bench=bench) for code in ("MAT-1", "MAT-2")]
for code in ("OUT-1", "OUT-2"):
    LaidOutTrayFactory(code=code, batch=mats[0].batch)
refold(trays=mats, recorded_at=NOW)
"""

SEND = """
import json
from datetime import datetime
from batches.models import Device, Tray, TrayCheck, PlantMovement, Place, ToSettle
from batches.services.generation import current_generation
from batches.services.standing import differing
from batches.services.syncing import Sender, take_items
items = json.loads({items!r})
now = datetime.fromisoformat({now!r})
statuses = [
    take_items(body={{"sent_at": {now!r}, "items": [one]}}, sender=Sender(), now=now)[0].status
    for one in items
]
print(json.dumps({{
    "statuses": statuses,
    "generation": current_generation(),
    "differing": differing()[1],
    "trays": [list(map(str, row)) for row in Tray.objects.order_by("code").values_list(
        "code", "alive", "stage", "last_look_on", "last_signs", "bench__code", "row", "started_on",
        "first_picked_on", "due_on")],
    "looks": sorted(str(row) for row in TrayCheck.objects.values_list(
        "id", "tray__code", "seen_at", "by", "stage_seen", "count", "signs", "strikes_out")),
    "left": sorted(str(row) for row in PlantMovement.objects.filter(kind="out").values_list(
        "id", "tray__code", "to_tray__code", "quantity", "on", "at")),
    "places": sorted(str(row) for row in Place.objects.values_list("id", "bench__code", "row")
                     if row[2]),
    "waits": sorted(str(pk) for pk in ToSettle.objects.open().values_list("id", flat=True)),
}}))
"""

NOW = datetime.now(UTC).replace(microsecond=0)


def journal() -> list[dict[str, Any]]:
    """Two days at the benches: looks, counts, a loss, an undo, moves, pickings, contradictions."""

    def item(number: int, hours: float, kind: str = "check", **more: Any) -> dict[str, Any]:
        return {
            "id": str(uuid5(NAMESPACE_OID, f"journal|{number}")), "device_seq": number,
            "kind": kind, "by": "Wilf", "occurred_at": (NOW - timedelta(hours=hours)).isoformat(),
        } | more  # fmt: skip

    undone = item(3, 44, tray="MAT-2", signs=["rot"])
    return [
        item(1, 48, tray="MAT-1", stage_seen="gametophyte", signs=["mould"]),
        item(2, 47, tray="MAT-1", count=76),
        undone,
        item(4, 43.9, "strike_out", strikes_out=undone["id"]),
        item(5, 30, "move", tray="MAT-1", bench="B01", row=2, column=2),
        item(6, 29, tray="MAT-2", stage_seen="first_frond"),
        item(7, 28, tray="MAT-2", stage_seen="gametophyte"),
        item(8, 20, "prick_out", tray="MAT-1", quantity=30,
             trays=[{"code": "OUT-1", "quantity": 30}]),
        item(9, 19, tray="OUT-1", count=29, losses=[{"quantity": 1, "cause": "damaged"}]),
        item(10, 18, tray="MAT-1", count=46),
        item(11, 9, "prick_out", tray="MAT-1", quantity=20,
             trays=[{"code": "OUT-2", "quantity": 20}]),
        item(12, 8, "move", tray="MAT-1", bench="B01", row=3, column=1),
        item(13, 7, tray="MAT-2", count=300),
        item(14, 6, tray="NOWHERE", signs=["dry"]),
        item(15, 5, tray="OUT-2", signs=["dry"]),
    ]  # fmt: skip


def send(nursery: RunningNursery, items: list[dict[str, Any]]) -> dict[str, Any]:
    """Send items one by one and give what the records hold then."""
    code = SEND.format(items=json.dumps(items), now=NOW.isoformat())
    said = nursery.command("shell", "--no-imports", "--command", code).stdout
    found: dict[str, Any] = json.loads(said.strip().splitlines()[-1])
    return found


def test_journals_bring_a_restored_older_nursery_to_the_state_without_the_failure(
    data_folder: RunningNursery, tmp_path: Path
) -> None:
    nursery, items = data_folder, journal()
    nursery.command("shell", "--no-imports", "--command", FILL)
    send(nursery, items[:6])
    backup = nursery.answer("backup", str(tmp_path / "backups"))["file"]
    whole = send(nursery, items[6:])
    assert whole["differing"] == []
    assert set(whole["statuses"]) == {"created", "review"}

    nursery.command("restore", backup)
    older = send(nursery, [])
    assert older["generation"] == whole["generation"] + 1
    assert len(older["looks"]) < len(whole["looks"])

    healed = send(nursery, items[::-1])
    assert set(healed.pop("statuses")) <= {"created", "review", "duplicate", "merged"}
    whole.pop("statuses")
    assert healed == whole | {"generation": older["generation"]}
    assert send(nursery, items) == healed | {"statuses": ["duplicate"] * len(items)}
