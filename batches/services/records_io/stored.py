"""What do the stored rows say, in the columns of the records?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from django.db import models

from batches.models import Parentage
from batches.services.records_io.columns import GERMINATION_TESTS, TRAYS
from batches.services.records_io.kinds import Column, Kind, RecordsFile

#: how many keys one query asks for; SQLite bounds the values of one statement
CHUNK = 900
_READ_AT_ONCE = 5_000


def stored_rows(file: RecordsFile, *, keys: Sequence[Any] | None = None) -> Iterator[list[Any]]:
    """Return the stored values in the order of the file's columns, all rows or those of some keys.

    Texts that are not known are empty; a tray's parents are a sorted tuple of codes.
    """
    query: models.QuerySet[Any] = file.model._default_manager.all()
    if file is GERMINATION_TESTS:
        query = query.filter(counted_on__isnull=False)
    for rows in _parts(file, query, keys):
        paths = [_path(column) for column in file.columns]
        values = rows.values_list(*paths).iterator(chunk_size=_READ_AT_ONCE)
        if file is TRAYS:
            yield from _with_parents(file, values, keys)
        else:
            yield from map(list, values)


def _parts(
    file: RecordsFile, query: models.QuerySet[Any], keys: Sequence[Any] | None
) -> Iterator[models.QuerySet[Any]]:
    order = (file.key,) if file.key == "code" else file.order
    if keys is None:
        yield query.order_by(*order)
        return
    for start in range(0, len(keys), CHUNK):
        yield query.filter(**{f"{file.key}__in": keys[start : start + CHUNK]})


def _path(column: Column) -> str:
    if column.name == "quantity" and not column.field:
        return "alive"
    if column.name == "parents":
        return "pk"
    if column.kind is Kind.ROW:
        return f"{column.field}_id"
    return column.path


def _with_parents(
    file: RecordsFile, values: Iterable[tuple[Any, ...]], keys: Sequence[Any] | None
) -> Iterator[list[Any]]:
    at = next(n for n, column in enumerate(file.columns) if column.name == "parents")
    parents = parents_of(keys)
    for found in values:
        row = list(found)
        row[at] = tuple(sorted(parents.get(row[0], ())))
        yield row


def parents_of(codes: Sequence[str] | None = None) -> dict[str, set[str]]:
    """Return the codes of the parents by the code of the tray; trays without any are left out."""
    found: defaultdict[str, set[str]] = defaultdict(set)
    query = Parentage.objects.all()
    if codes is None:
        parts = [query]
    else:
        starts = range(0, len(codes), CHUNK)
        parts = [query.filter(child__code__in=codes[start : start + CHUNK]) for start in starts]
    for part in parts:
        for child, parent in part.values_list("child__code", "parent__code"):
            found[child].add(parent)
    return dict(found)


def same(column: Column, given: Any, held: Any) -> bool:
    """Tell whether a cell says what is stored; None is unknown and never differs."""
    if given is None:
        return True
    if column.name == "parents":
        # What moved into a tray tells of parents that its own row does not name.
        return _words(given) <= _words(held)
    if column.kind in {Kind.WORDS, Kind.REFS}:
        return _words(given) == _words(held)
    return bool(given == held)


def _words(value: Any) -> frozenset[str]:
    return frozenset(value.split() if isinstance(value, str) else value or ())
