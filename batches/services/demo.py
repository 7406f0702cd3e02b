"""How does the demo nursery come into a new data folder, as if it were this week?

The folder of plain CSV stands on its reference day. Its dates are moved by whole weeks, so that
the reference day falls in the present week; what was only looked at later in that week than now
has not happened yet and is left out; then everything goes through the import like any other
folder.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path
from tempfile import TemporaryDirectory

from batches.core.errors import NotPossibleNow, NurseryError
from batches.services.days import local_day
from batches.services.demo_shift import Rows, Tables, shifted, weeks_between
from batches.services.records_io import Progress, import_records
from batches.services.records_io.columns import FILES

#: the day on which the demo nursery stands as written: a Wednesday
REFERENCE_DAY = date(2026, 11, 25)
#: who stored the first counts that follow from the demo's trays
LOADED_BY = "demo"
#: file → the columns that tell when a row happened; nothing else hangs on these files' last rows
_HAPPENED = {
    "checks": ("seen_at", "recorded_at"),
    "treatments": ("done_at",),
    "house_readings": ("on",),
}


class DemoUnreadable(NurseryError):
    """The demo's folder is not there, or not as it was delivered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedDemo:
    """What was loaded: rows per file, weeks moved, and rows left out as not yet happened."""

    counts: dict[str, int]
    weeks: int
    reference_day: date
    left_out: int


def load_demo(
    *, folder: Path, now: datetime, zone: tzinfo, progress: Progress | None = None
) -> LoadedDemo:
    """Load the demo nursery into a data folder that holds no records.

    Parameters
    ----------
    folder : Path
        The demo's CSV files.
    now : datetime
        The moment of loading; the reference day falls in its week, and nothing lies after it.
    zone : tzinfo
        The nursery's time zone.

    Raises
    ------
    NotPossibleNow
        The data folder holds records; they are not touched.
    DemoUnreadable
        The folder is missing or its rows are refused; nothing was stored.
    """
    require_no_records()
    weeks = weeks_between(reference=REFERENCE_DAY, today=local_day(now))
    moved = shifted(read_tables(folder), weeks=weeks, zone=zone)
    tables = happened_by(moved, now=now, zone=zone)
    with TemporaryDirectory(prefix="frondbook-demo-") as name:
        write_tables(Path(name), tables)
        result = import_records(path=Path(name), now=now, by=LOADED_BY, progress=progress)
    if result.errors:
        raise DemoUnreadable(
            f"The demo in {folder} is not as it was delivered; nothing was stored. "
            f"{len(result.errors)} faults, the first: {result.errors[0]}"
        )
    return LoadedDemo(
        counts=result.counts,
        weeks=weeks,
        reference_day=REFERENCE_DAY + timedelta(weeks=weeks),
        left_out=_size(moved) - _size(tables),
    )


def require_no_records() -> None:
    """Raise `NotPossibleNow` when the data folder holds a record of any kind."""
    for file in FILES:
        if file.model._default_manager.exists():
            raise NotPossibleNow(
                f"This data folder holds records already (a {file.noun}). The demo nursery is "
                "loaded only into an empty one, so that nothing of yours is mixed with it. "
                "Nothing was changed. Name a new folder in NURSERY_DATA."
            )


def happened_by(tables: Tables, *, now: datetime, zone: tzinfo) -> dict[str, Rows]:
    """Return the records without looks, treatments and readings that lie after this moment.

    A strike-out whose look was left out goes with it.
    """
    local = now.astimezone(zone)
    kept = {
        name: [
            row
            for row in rows
            if all(_is_past(row[column], local, zone) for column in _HAPPENED.get(name, ()))
        ]
        for name, rows in tables.items()
    }
    looks = {row["id"] for row in kept.get("checks", ())}
    kept["checks"] = [
        row
        for row in kept.get("checks", ())
        if not row["strikes_out"] or row["strikes_out"] in looks
    ]
    return kept


def _is_past(cell: str, now: datetime, zone: tzinfo) -> bool:
    if not cell:
        return True
    if len(cell) == len("2026-11-25"):
        return date.fromisoformat(cell) <= now.date()
    return datetime.fromisoformat(cell).astimezone(zone) <= now


def read_tables(folder: Path) -> dict[str, Rows]:
    """Return the rows of every file of the records that stands in the folder.

    Raises
    ------
    DemoUnreadable
        When there is none, or one is no CSV in UTF-8.
    """
    tables: dict[str, Rows] = {}
    for file in FILES:
        path = folder / file.file_name
        if not path.is_file():
            continue
        try:
            with path.open(encoding="utf-8", newline="") as lines:
                tables[file.name] = list(csv.DictReader(lines, strict=True))
        except (OSError, UnicodeDecodeError, csv.Error) as error:
            raise DemoUnreadable(f"{path} cannot be read ({error}). Nothing was stored.") from error
    if not tables:
        raise DemoUnreadable(f"There is no demo nursery in {folder}. Nothing was stored.")
    return tables


def write_tables(folder: Path, tables: Tables) -> None:
    """Write the rows as CSV files into the folder; files without rows are left out."""
    for name, rows in tables.items():
        if not rows:
            continue
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, fieldnames=list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


def _size(tables: Tables) -> int:
    return sum(len(rows) for rows in tables.values())
