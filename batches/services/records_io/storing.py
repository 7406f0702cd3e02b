"""How are checked rows stored, all or none?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django.db import IntegrityError, transaction
from django.db.models import F

from batches.core.errors import ChangedMeanwhile
from batches.models import Parentage, Tray
from batches.services import standing
from batches.services.records_io import codes_taken
from batches.services.records_io.columns import (
    CHECKS,
    FILE_NAMED,
    FILES,
    GERMINATION_TESTS,
    HOUSE_READINGS,
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


def _store_rows(fresh: Fresh, told: Told, now: datetime, progress: Progress | None) -> Keys:
    keys: Keys = {}
    for name in _ORDER:
        file = FILE_NAMED[name]
        rows = fresh.rows.get(name, [])
        if rows:
            make = _Maker(file, keys, told, now)
            insert(file.model, make.all(rows), columns=make.columns, progress=progress)
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
    rows = (
        {"parent": parent, "child": child} for parent, child in pairs if (parent, child) not in held
    )
    insert(Parentage, rows, columns=("parent", "child"))


class _Maker:
    """Turns rows of a file into field name → value."""

    def __init__(self, file: RecordsFile, keys: Keys, told: Told, now: datetime) -> None:
        self._file = file
        self._told = told
        self._now = now
        self._keys = keys
        self._columns = [
            (at, column.field, self._value_of(column))
            for at, column in enumerate(file.columns)
            if column.field
        ]
        self.columns = [column for _, column, _ in self._columns]
        if file in {GERMINATION_TESTS, HOUSE_READINGS}:
            self.columns.append("id")
        fields = {field.name for field in file.model._meta.fields}
        self._recorded = "recorded_at" in fields
        if self._recorded and file is not CHECKS:
            self.columns.append("recorded_at")
        if file is TRANSITIONS:
            self.columns += ["from_stage", "derived"]
        if file is TRAYS:
            self.columns += ["stage", "stage_seen_on"]

    def all(self, rows: list[Any]) -> Iterator[dict[str, Any]]:
        """Give the rows one after another."""
        for row in rows:
            made = {field: value(row[at]) for at, field, value in self._columns}
            self._add_own(made, row)
            yield made

    def _add_own(self, made: dict[str, Any], row: Any) -> None:
        file = self._file
        if self._recorded and made.get("recorded_at") is None:
            made["recorded_at"] = self._now
        if file is TRANSITIONS:
            made["from_stage"], made["derived"] = self._told[row.id]
        elif file is TRAYS:
            made["stage"], made["stage_seen_on"] = row.start_stage, row.started_on
        elif file is GERMINATION_TESTS or file is HOUSE_READINGS:
            made["id"] = uuid4()

    def _value_of(self, column: Column) -> Callable[[Any], Any]:
        if column.kind is Kind.REF:
            keys = self._keys[column.refers[0]]
            return lambda code: None if code is None else keys[code]
        if column.kind is Kind.REFS:
            return lambda codes: " ".join(codes)
        if column.kind in {Kind.TEXT, Kind.WORD, Kind.WORDS}:
            field: Any = self._file.model._meta.get_field(column.field)
            default = field.get_default()
            return lambda text: default if text is None else text
        return lambda value: value


def rows_to_store(fresh: Fresh) -> int:
    """Return how many rows `store` writes, for a progress bar."""
    return sum(len(fresh.rows.get(file.name, ())) for file in FILES)
