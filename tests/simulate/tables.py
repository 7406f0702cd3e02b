"""Which files does a records folder hold, with which columns, and how is one written?

The files and columns stand here in the order of the published records format; a row is a named
tuple of strings, so that a hundred thousand looks are cheap and a column is read by its name.
"""

from __future__ import annotations

import csv
from collections import namedtuple
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

COLUMNS: dict[str, tuple[str, ...]] = {
    "taxa": (
        "code", "genus", "species", "infra_rank", "infra_epithet", "group", "cultivar", "hybrid",
        "common_name", "spore_kind", "form", "rest_from_week", "rest_to_week",
        "last_pot_up_week", "routes", "protection", "notes",
    ),
    "sources": (
        "code", "taxon", "kind", "mothers", "bench", "provenance", "locality", "permit",
        "supplier", "passport", "ripe_from_week", "ripe_to_week", "notes",
    ),
    "spore_lots": (
        "code", "taxon", "source", "collected_on", "collected_by", "method", "ripeness",
        "drying_since", "cleaned_on", "mass_mg", "storage", "notes",
    ),
    "germination_tests": ("lot", "sown_on", "counted_on", "counted", "germinated"),
    "media_batches": (
        "code", "recipe", "treatment", "temperature_c", "minutes", "made_on", "litres",
    ),
    "houses": ("code", "name"),
    "benches": ("code", "house", "name", "rows", "columns", "walk_order"),
    "batches": (
        "code", "taxon", "route", "sold_as", "spore_lot", "source", "media_batch", "started_on",
        "notes",
    ),
    "trays": (
        "code", "batch", "container", "cells", "started_on", "start_stage", "quantity", "bench",
        "row", "column", "parents", "media_batch", "unit", "pot_size", "container_state",
        "cover", "control", "isolated", "label_printed_on", "come_back_on", "ended_on", "end",
        "end_cause",
    ),
    "checks": (
        "id", "tray", "seen_at", "by", "stage_seen", "count", "about", "signs", "opened",
        "glance", "note", "strikes_out", "recorded_at", "device", "device_seq", "source",
    ),
    "transitions": ("id", "tray", "to_stage", "not_before", "seen_on", "by", "strikes_out"),
    "movements": (
        "id", "tray", "on", "kind", "quantity", "arrived", "cause", "to_tray", "recipient",
        "order", "by", "strikes_out",
    ),
    "places": ("id", "tray", "on", "bench", "row", "column", "by", "strikes_out"),
    "orders": ("code", "taxon", "quantity", "pot_size", "wanted_on", "customer"),
    "treatments": (
        "id", "done_at", "product", "rate", "place_or_trays", "operator", "reentry_hours",
    ),
    "house_readings": ("house", "on", "lowest_c", "highest_c"),
}  # fmt: skip


def _row_type(table: str, columns: tuple[str, ...]) -> Any:
    return namedtuple(f"{table}_row", columns, defaults=("",) * len(columns))


#: table → the named tuple of its rows; a column left out is empty
ROW: dict[str, Any] = {table: _row_type(table, columns) for table, columns in COLUMNS.items()}


@dataclass(slots=True, kw_only=True)
class Truth:
    """What really happened, which the records only show in part.

    ``stage_days`` holds, per tray, the day (as a proleptic ordinal with its fraction) on which
    each stage after the first was truly reached; infinity for a tray that never would have.
    ``survival`` is the chance of one plant to come through the tray's stage.
    """

    ferns: dict[str, Any] = field(default_factory=dict)
    stage_days: dict[str, dict[str, float]] = field(default_factory=dict)
    survival: dict[str, float] = field(default_factory=dict)
    mould_medium: str = ""
    rogue_lot: str = ""


@dataclass(slots=True, kw_only=True)
class Records:
    """A records folder in memory: plain rows per file, and the truth behind them."""

    taxa: list[Any] = field(default_factory=list)
    sources: list[Any] = field(default_factory=list)
    spore_lots: list[Any] = field(default_factory=list)
    germination_tests: list[Any] = field(default_factory=list)
    media_batches: list[Any] = field(default_factory=list)
    houses: list[Any] = field(default_factory=list)
    benches: list[Any] = field(default_factory=list)
    batches: list[Any] = field(default_factory=list)
    trays: list[Any] = field(default_factory=list)
    checks: list[Any] = field(default_factory=list)
    transitions: list[Any] = field(default_factory=list)
    movements: list[Any] = field(default_factory=list)
    places: list[Any] = field(default_factory=list)
    orders: list[Any] = field(default_factory=list)
    treatments: list[Any] = field(default_factory=list)
    house_readings: list[Any] = field(default_factory=list)
    truth: Truth = field(default_factory=Truth)

    def rows(self, table: str) -> list[Any]:
        """Return the rows of one table of `COLUMNS`."""
        found: list[Any] = getattr(self, table)
        return found


def write_folder(records: Records, path: Path) -> Path:
    """Write the records as UTF-8 CSV files into the folder, made where needed, and return it."""
    path.mkdir(parents=True, exist_ok=True)
    for table, columns in COLUMNS.items():
        with (path / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(columns)
            writer.writerows(records.rows(table))
    return path


def read_folder(path: Path) -> Records:
    """Read a folder that `write_folder` wrote; its truth is not in the files and stays empty."""
    records = Records()
    for table in COLUMNS:
        with (path / f"{table}.csv").open(encoding="utf-8", newline="") as file:
            lines = csv.reader(file)
            row = ROW[table]
            assert tuple(next(lines)) == COLUMNS[table]
            records.rows(table).extend(row(*line) for line in lines)
    return records
