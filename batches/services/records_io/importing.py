"""Are these records sound, and if so, store them, all or none?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from django.db import transaction

from batches.services.days import local_day
from batches.services.records_io import derived, storing
from batches.services.records_io.checking_events import check_events
from batches.services.records_io.checking_stock import check_stock
from batches.services.records_io.checking_things import check_things, tidy_names
from batches.services.records_io.checking_trays import check_trays, refuse_circles
from batches.services.records_io.columns import FILE_NAMED, FILES, TAXA, TRAYS
from batches.services.records_io.faults import Faults, RowError
from batches.services.records_io.from_stages import passages_told
from batches.services.records_io.opening import (
    DESCRIPTOR,
    KNOWN_NAMES,
    MOST_BYTES,
    file_of,
    open_records,
)
from batches.services.records_io.reading import Sheet, judge_descriptor, read_sheet
from batches.services.records_io.sifting import keep_time, refer, sift
from batches.services.records_io.world import Bounds, Check, Fresh, load_world
from batches.services.refits import refit_due

#: how far a clock may run ahead of ours before a moment counts as the future
_CLOCKS_DIFFER = timedelta(minutes=5)

#: called with what is being done, how much of it, and of how much
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportResult:
    """What an import stored, by file name (``trays.csv``); with errors it stored nothing.

    ``counts`` are the files' rows that are new, ``already`` those that were there already, both
    for every file of the records. ``derived`` are first counts and first places that followed
    from trays.csv. With ``dry_run`` the counts say what would be stored.
    """

    counts: dict[str, int]
    already: dict[str, int]
    derived: dict[str, int]
    errors: tuple[RowError, ...] = ()
    dry_run: bool = False


@dataclass(slots=True, kw_only=True)
class _Work:
    """Everything about one import on its way."""

    faults: Faults = field(default_factory=Faults)
    sheets: dict[str, Sheet] = field(default_factory=dict)
    fresh: Fresh = field(default_factory=Fresh)


def import_records(
    *,
    path: Path,
    now: datetime,
    by: str,
    day_first: bool = False,
    dry_run: bool = False,
    most_bytes: int = MOST_BYTES,
    progress: Progress | None = None,
    before_storing: Callable[[], object] | None = None,
    note_stored: Callable[[dict[str, int]], object] | None = None,
) -> ImportResult:
    """Store the records of a folder or zip: all of them, or none and a list of what is wrong.

    Parameters
    ----------
    now : datetime
        The moment of the import: rows that do not say when they were recorded get it, and nothing
        may lie after it.
    by : str
        Who imports; written on the first counts and places that follow from trays.csv.
    day_first : bool
        Whether dates written like 24/11/2026 are read as day, month, year.
    dry_run : bool
        Check everything, store nothing.
    progress : callable, optional
        Called with what is being done, how far, and of how much.
    before_storing : callable, optional
        Called once everything is found sound and some of it is new, before that is stored.
    note_stored : callable, optional
        Called with the new rows by file, without zeros, in the transaction that stores them.

    Raises
    ------
    CannotOpen
        When the folder or zip itself cannot be read.
    ChangedMeanwhile
        When somebody wrote to the same records between the checks and the storing.
    """
    work = _Work()
    parcel = open_records(path, faults=work.faults, most_bytes=most_bytes)
    if DESCRIPTOR in parcel:
        judge_descriptor(parcel.pop(DESCRIPTOR), faults=work.faults)
    _read(work, parcel, day_first=day_first, progress=progress)
    bounds = Bounds(today=local_day(now), latest=now + _CLOCKS_DIFFER)
    check = Check(world=load_world(), fresh=work.fresh, faults=work.faults, bounds=bounds)
    sizes = _check(work, check, by=by)
    if work.faults or dry_run:
        return _result(work, sizes, dry_run=dry_run)
    if before_storing is not None and storing.rows_to_store(work.fresh):
        before_storing()
    told = passages_told(check)
    revisions = storing.revisions_of(work.fresh.touched)
    result = _result(work, sizes, dry_run=False)
    with transaction.atomic():
        storing.store(
            work.fresh, told=told, revisions=revisions, now=now, progress=_bar(work.fresh, progress)
        )
        if note_stored is not None:
            note_stored({name: many for name, many in result.counts.items() if many})
    # What the records teach of stage times holds for the due dates before anybody reads them.
    refit_due(on=bounds.today, now=now)
    return result


def _read(
    work: _Work, parcel: dict[str, bytes], *, day_first: bool, progress: Progress | None
) -> None:
    for name in KNOWN_NAMES:
        if name not in parcel or name == DESCRIPTOR:
            continue
        data = parcel.pop(name)
        file = FILE_NAMED[file_of(name)]
        about = data.count(b"\n")

        def tell(rows: int, name: str = name, about: int = about) -> None:
            if progress is not None:
                progress(f"reading {name}", min(rows, about), about)

        work.sheets[file.name] = read_sheet(
            file, data, day_first=day_first, faults=work.faults, progress=tell
        )


def _check(work: _Work, check: Check, *, by: str) -> dict[str, int]:
    """Run every check; return how many rows of each file are new, before any that follow."""
    if TAXA.name in work.sheets:
        tidy_names(work.sheets[TAXA.name], work.faults)
    for file in FILES:
        work.fresh.rows[file.name] = []
    sift(work.sheets, check)
    sizes = {name: len(rows) for name, rows in work.fresh.rows.items()}
    refer(check)
    keep_time(check)
    check_things(check)
    check_trays(check)
    check_events(check)
    derived.add_parents(check)
    refuse_circles(check)
    unmoved = check_stock(check, work.sheets.get(TRAYS.name))
    derived.add_first_counts(check, unmoved, by=by)
    derived.add_first_places(check, by=by)
    return sizes


def _result(work: _Work, sizes: dict[str, int], *, dry_run: bool) -> ImportResult:
    fresh = work.fresh
    return ImportResult(
        counts={file.file_name: sizes[file.name] for file in FILES},
        already={file.file_name: fresh.already.get(file.name, 0) for file in FILES},
        derived={
            file.file_name: len(fresh.rows[file.name]) - sizes[file.name]
            for file in FILES
            if len(fresh.rows[file.name]) > sizes[file.name]
        },
        errors=work.faults.in_order({file.file_name: tuple(file.by_name) for file in FILES}),
        dry_run=dry_run,
    )


def _bar(fresh: Fresh, progress: Progress | None) -> Callable[[int], None] | None:
    if progress is None:
        return None
    total = storing.rows_to_store(fresh)
    done = 0

    def tell(rows: int) -> None:
        nonlocal done
        done += rows
        progress("storing", done, total)

    return tell
