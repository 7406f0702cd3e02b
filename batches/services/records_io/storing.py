"""How are checked rows stored, all or none?"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from operator import itemgetter
from typing import Any
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction
from django.db.models import F

from batches.core.errors import ChangedMeanwhile
from batches.models import Parentage, Taxon, Tray
from batches.services import standing
from batches.services.records_io import codes_taken
from batches.services.records_io.columns import (
    CHECKS,
    FILE_NAMED,
    FILES,
    TRANSITIONS,
    TRAYS,
)
from batches.services.records_io.inserting import insert
from batches.services.records_io.kinds import Column, Kind, RecordsFile
from batches.services.records_io.stored import CHUNK
from batches.services.records_io.world import Fresh

#: what others name comes first
_ORDER = (
    "taxa", "houses", "benches", "sources", "spore_lots", "germination_tests", "media_batches",
    "batches", "trays", "orders", "checks", "transitions", "movements", "places", "treatments",
    "house_readings",
)  # fmt: skip
_MEANWHILE = (
    "Somebody else wrote to the same records while these were being checked. Nothing was stored: "
    "import again."
)

Keys = dict[str, dict[str, int]]
Told = dict[UUID, tuple[str, bool]]
Progress = Callable[[int], None]


def revisions_of(codes: Iterable[str]) -> dict[str, int]:
    """Return how often each of these trays was written to, to be compared before storing."""
    wanted = sorted(codes)
    found: dict[str, int] = {}
    for start in range(0, len(wanted), CHUNK):
        query = Tray.objects.filter(code__in=wanted[start : start + CHUNK])
        found |= dict(query.values_list("code", "revision"))
    return found


def store(
    fresh: Fresh,
    *,
    told: Told,
    revisions: dict[str, int],
    now: datetime,
    progress: Progress | None = None,
) -> None:
    """Store everything in one transaction, and refold the trays that it touches.

    Raises
    ------
    ChangedMeanwhile
        When a code, an id or a tray was written by somebody else since the checks; nothing is
        stored then.
    """
    try:
        with transaction.atomic():
            _claim(revisions)
            keys = _store_rows(fresh, told, now, progress)
            _store_parents(fresh, keys)
            codes_taken.register(fresh)
            pks = [keys[TRAYS.name][row.code] for row in fresh.rows.get(TRAYS.name, ())]
            pks += [keys[TRAYS.name][code] for code in revisions]
            standing.refold(trays=[Tray(pk=pk) for pk in pks], recorded_at=now)
            _have_stage_times_reckoned(pks)
    except IntegrityError as error:
        raise ChangedMeanwhile(_MEANWHILE) from error


def _claim(revisions: dict[str, int]) -> None:
    if revisions_of(revisions) != revisions:
        raise ChangedMeanwhile(_MEANWHILE)
    codes = sorted(revisions)
    for start in range(0, len(codes), CHUNK):
        Tray.objects.filter(code__in=codes[start : start + CHUNK]).update(
            revision=F("revision") + 1
        )


def _have_stage_times_reckoned(pks: list[int]) -> None:
    """Mark the ferns of these trays: looks and stated passages teach stage times, too."""
    for start in range(0, len(pks), CHUNK):
        ferns = Tray.objects.filter(pk__in=pks[start : start + CHUNK]).values("batch__taxon")
        Taxon.objects.filter(pk__in=ferns, fit_due=False).update(fit_due=True)


def _store_rows(fresh: Fresh, told: Told, now: datetime, progress: Progress | None) -> Keys:
    keys: Keys = {}
    for name in _ORDER:
        file = FILE_NAMED[name]
        rows = fresh.rows.get(name, [])
        if rows:
            make = _Maker(file, keys, told, now)
            insert(file.model, map(make.values_of, rows), fields=make.fields, progress=progress)
        if file.code_kind:
            keys[name] = dict(file.model._default_manager.values_list("code", "pk").order_by())
    return keys


def _store_parents(fresh: Fresh, keys: Keys) -> None:
    trays = keys[TRAYS.name]
    pairs = sorted((trays[parent], trays[child]) for parent, child in fresh.parentage)
    if not pairs:
        return
    children = [child for _, child in pairs]
    held: set[tuple[int, int]] = set()
    for start in range(0, len(children), CHUNK):
        query = Parentage.objects.filter(child__in=children[start : start + CHUNK])
        held |= set(query.values_list("parent_id", "child_id"))
    new = [pair for pair in pairs if pair not in held]
    insert(Parentage, new, fields=("parent", "child"))


class _Maker:
    """Turns rows of a file into values of the model's fields."""

    def __init__(self, file: RecordsFile, keys: Keys, told: Told, now: datetime) -> None:
        held = [(at, column) for at, column in enumerate(file.columns) if column.field]
        self.fields = [column.field for _, column in held]
        self._cells = itemgetter(*(at for at, _ in held))
        self._changes = [
            (place, change)
            for place, (_, column) in enumerate(held)
            if (change := _change_of(file, column, keys))
        ]
        self._more: list[Callable[[Any], Any]] = []
        fields = {field.name for field in file.model._meta.fields}
        if file is CHECKS:
            at = self.fields.index("recorded_at")
            self._changes.append((at, lambda moment: now if moment is None else moment))
        elif "recorded_at" in fields:
            self._add("recorded_at", lambda _: now)
        if file is TRANSITIONS:
            self._add("from_stage", lambda row: told[row.id][0])
            self._add("derived", lambda row: told[row.id][1])
        elif file is TRAYS:
            self._add("stage", lambda row: row.start_stage)
            self._add("stage_seen_on", lambda row: row.started_on)
        elif not file.key:
            self._add("id", lambda _: uuid4())

    def _add(self, field: str, value: Callable[[Any], Any]) -> None:
        self.fields.append(field)
        self._more.append(value)

    def values_of(self, row: Any) -> list[Any]:
        """Return the row's values in the order of ``fields``."""
        values = list(self._cells(row))
        for place, change in self._changes:
            values[place] = change(values[place])
        values += [value(row) for value in self._more]
        return values


def _change_of(file: RecordsFile, column: Column, keys: Keys) -> Callable[[Any], Any] | None:
    """Return what makes of a cell's value what the model holds; None for nothing."""
    if column.kind is Kind.REF:
        pks = keys[column.refers[0]]
        return lambda code: None if code is None else pks[code]
    if column.kind is Kind.REFS:
        return lambda codes: " ".join(codes)
    if column.kind in {Kind.TEXT, Kind.WORD, Kind.WORDS}:
        field: Any = file.model._meta.get_field(column.field)
        default = field.get_default()
        return lambda text: default if text is None else text
    if column.kind is Kind.YES:
        return bool
    return None


def rows_to_store(fresh: Fresh) -> int:
    """Return how many rows `store` writes, for a progress bar."""
    return sum(len(fresh.rows.get(file.name, ())) for file in FILES)
