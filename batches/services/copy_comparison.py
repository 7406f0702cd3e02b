"""Is everything that a copy of yesterday holds still here, unchanged?"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from django.apps import apps
from django.db import models

from batches.models.guards import GUARDED_TABLES
from batches.services import other_database, restore

_AT_ONCE = 500
_MOST_FAULTS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """How many rows of a copy were compared, and which of them differ here or are gone."""

    rows: int
    faults: tuple[str, ...]


def compared_with_copy(*, file: Path) -> Comparison:
    """Compare every row that is only ever added with the same row of a backup.

    The copy itself is first held beside the digest of each table that it came with.

    Raises
    ------
    BadBackup
        The file is no whole backup, or one of a newer program.
    """
    rows, faults = 0, list[str]()
    with (
        tempfile.TemporaryDirectory(prefix="frondbook-compare-") as work,
        restore.ready_copy(file, Path(work)) as unpacked,
        other_database.database_file(unpacked.database) as copy,
    ):
        for kind in _only_added():
            for some in _pieces(kind._base_manager.using(copy).order_by("pk").values().iterator()):
                rows += len(some)
                here = {
                    row[kind._meta.pk.attname]: row
                    for row in kind._base_manager.filter(
                        pk__in=[row[kind._meta.pk.attname] for row in some]
                    ).values()
                }
                faults += list(islice(_differing(kind, some, here), _MOST_FAULTS - len(faults)))
    return Comparison(rows=rows, faults=tuple(faults))


def _only_added() -> list[type[models.Model]]:
    return [kind for kind in apps.get_models() if kind._meta.db_table in GUARDED_TABLES]


def _pieces(rows: Iterable[dict[str, Any]]) -> Iterator[list[dict[str, Any]]]:
    left = iter(rows)
    while some := list(islice(left, _AT_ONCE)):
        yield some


def _differing(
    kind: type[models.Model], some: list[dict[str, Any]], here: dict[Any, dict[str, Any]]
) -> Iterator[str]:
    noun = str(kind._meta.verbose_name)
    for row in some:
        key = row[kind._meta.pk.attname]
        found = here.get(key)
        if found is None:
            yield f"The {noun} {key} is in the copy and not here."
        elif found != row:
            names = ", ".join(name for name in row if row[name] != found[name])
            yield f"The {noun} {key} is not what it was ({names})."
