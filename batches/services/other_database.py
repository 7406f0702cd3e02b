"""How are all rows read from, or written to, a second database file?

A backup holds one SQLite file whatever the nursery runs on, so the same code moves a nursery from
one kind of database to the other.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.apps import apps
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

ALIAS = "backup_file"
ROWS_AT_ONCE = 500


@contextmanager
def database_file(path: Path) -> Iterator[str]:
    """Open an SQLite file beside the nursery's own database; gives the alias to query it by."""
    settings = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "ATOMIC_REQUESTS": False}
    connections.settings[ALIAS] = connections.configure_settings({"default": settings})["default"]
    try:
        yield ALIAS
    finally:
        connections[ALIAS].close()
        del connections[ALIAS]
        del connections.settings[ALIAS]


def bring_up_to_date(database: str) -> None:
    """Make the changes to a database's form that this program is ahead by; all, if it is new."""
    call_command("migrate", database=database, verbosity=0, stdout=io.StringIO())


def tables() -> list[type[models.Model]]:
    """Give every stored kind of row of every installed app, ours and Django's."""
    found = apps.get_models(include_auto_created=True)
    return [model for model in found if model._meta.managed and not model._meta.proxy]


def copy_all_rows(*, source: str, target: str) -> None:
    """Replace all rows of `target` by those of `source`, in one transaction of `target`."""
    with transaction.atomic(using=target):
        _empty(connections[target])
        for model in tables():
            _copy(model, source=source, target=connections[target])
        _continue_numbers(connections[target])


def _empty(connection: BaseDatabaseWrapper) -> None:
    # TRUNCATE does not ask the guards of the event tables; SQLite files emptied here are new,
    # and their guarded tables hold nothing that could be refused.
    names = [connection.ops.quote_name(model._meta.db_table) for model in tables()]
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"TRUNCATE {', '.join(names)} RESTART IDENTITY CASCADE")
        else:
            for name in names:
                cursor.execute(f"DELETE FROM {name}")  # noqa: S608 - names of our own tables


def _copy(model: type[models.Model], *, source: str, target: BaseDatabaseWrapper) -> None:
    """Copy the rows of one table as they are: no default, no time of now is put in."""
    fields: list[models.Field[Any, Any]] = list(model._meta.local_concrete_fields)
    columns = ", ".join(target.ops.quote_name(field.column) for field in fields)
    marks = ", ".join(["%s"] * len(fields))
    table = target.ops.quote_name(model._meta.db_table)
    statement = f"INSERT INTO {table} ({columns}) VALUES ({marks})"  # noqa: S608 - our own names
    rows = model._base_manager.using(source).order_by("pk").iterator(chunk_size=ROWS_AT_ONCE)
    waiting: list[list[Any]] = []
    with target.cursor() as cursor:
        for row in rows:
            values = [
                field.get_db_prep_save(getattr(row, field.attname), connection=target)
                for field in fields
            ]
            waiting.append(values)
            if len(waiting) == ROWS_AT_ONCE:
                cursor.executemany(statement, waiting)
                waiting.clear()
        if waiting:
            cursor.executemany(statement, waiting)


def _continue_numbers(connection: BaseDatabaseWrapper) -> None:
    """Let new rows be numbered after the copied ones."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), tables()):
            cursor.execute(statement)
