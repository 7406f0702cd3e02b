"""How does a nursery that outgrows one machine's file move to PostgreSQL, and is all of it there?

Everything is copied in one transaction of the new database and counted and compared, table by
table, before that transaction ends: the move is whole or it is not made. The file stays as it is.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from django.db import DatabaseError, connections, models, transaction

from batches.core.errors import NurseryError
from batches.services.other_database import bring_up_to_date, copy_all_rows, tables

ALIAS = "new_home"
#: what a database that was only made ready holds
_MADE_READY = {"django_migrations", "django_content_type", "auth_permission"}


class NotMoved(NurseryError):
    """The records could not be moved; what was there is untouched."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableDigest:
    """How many rows a table holds, and a sum of the hashes of all of them, whatever their order."""

    rows: int
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What was moved, by table; ``moved`` is False where it had been moved before and is equal."""

    moved: bool
    tables: dict[str, TableDigest]


def move_records(*, settings: dict[str, Any], from_database: str = "default") -> Moved:
    """Copy every row to another database and compare; run again, it compares only.

    Parameters
    ----------
    settings : dict
        The other database as `DATABASES` of Django's settings names one.

    Raises
    ------
    NotMoved
        It cannot be reached, or holds records that are not these, or came out different.
    """
    with _database(settings) as target:
        try:
            bring_up_to_date(target)
        except DatabaseError as error:
            raise NotMoved(
                f"The new database cannot be used: {error}. Nothing was changed. Look at the "
                "address, and whether its owner may make tables."
            ) from error
        ours = digests(database=from_database)
        if _holds_records(target):
            if digests(database=target) == ours:
                return Moved(moved=False, tables=ours)
            raise NotMoved(
                "The new database holds other records already. Nothing was changed. Name an empty "
                "one; to move there again, drop and make it anew first."
            )
        with transaction.atomic(using=target):
            copy_all_rows(source=from_database, target=target)
            theirs = digests(database=target)
            wrong = sorted(name for name in ours if theirs.get(name) != ours[name])
            if wrong:
                raise NotMoved(
                    f"What arrived is not what was sent ({', '.join(wrong)}). The new database was "
                    "left empty and the old one as it was. Is a server still running on it? Stop "
                    "it and move again."
                )
        return Moved(moved=True, tables=ours)


def digests(*, database: str) -> dict[str, TableDigest]:
    """Return rows and digest of every table, by its name; the same on every kind of database."""
    return {model._meta.db_table: _digest(model, database) for model in tables()}


def _digest(model: type[models.Model], database: str) -> TableDigest:
    fields = [field.attname for field in model._meta.local_concrete_fields]
    rows, total = 0, 0
    for row in model._base_manager.using(database).order_by().values_list(*fields).iterator():
        # Numbers are summed, because text is sorted differently from database to database.
        total += int.from_bytes(hashlib.sha256(_text(row).encode()).digest())
        rows += 1
    return TableDigest(rows=rows, digest=f"{total % 2**256:064x}")


def _text(row: Iterable[Any]) -> str:
    return json.dumps(list(row), default=str, sort_keys=True)


def _holds_records(database: str) -> bool:
    return any(
        model._base_manager.using(database).exists()
        for model in tables()
        if model._meta.db_table not in _MADE_READY
    )


@contextmanager
def _database(settings: dict[str, Any]) -> Iterator[str]:
    # One connection is enough, and without a pool it says at once that nobody is there.
    options = {name: value for name, value in settings["OPTIONS"].items() if name != "pool"}
    own = {**settings, "OPTIONS": options}
    connections.settings[ALIAS] = connections.configure_settings({"default": own})["default"]
    try:
        yield ALIAS
    finally:
        connections[ALIAS].close()
        del connections[ALIAS]
        del connections.settings[ALIAS]
