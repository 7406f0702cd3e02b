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
from django.apps.registry import Apps
from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connections, models, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from batches.models.guards import create_guards

ALIAS = "backup_file"
ROWS_AT_ONCE = 500


@contextmanager
def database_file(path: Path, *, alias: str = ALIAS) -> Iterator[str]:
    """Open an SQLite file beside the nursery's own database; gives the alias to query it by."""
    settings = {"ENGINE": "django.db.backends.sqlite3", "NAME": str(path), "ATOMIC_REQUESTS": False}
    connections.settings[alias] = connections.configure_settings({"default": settings})["default"]
    try:
        yield alias
    finally:
        connections[alias].close()
        del connections[alias]
        del connections.settings[alias]


def bring_up_to_date(database: str) -> None:
    """Make the changes to a database's form that this program is ahead by; all, if it is new.

    Guards of the event tables that somebody took away are put back.
    """
    call_command("migrate", database=database, verbosity=0, stdout=io.StringIO())
    create_guards(connections[database])


def tables(known: Apps = apps) -> list[type[models.Model]]:
    """Give every stored kind of row of every installed app, ours and Django's."""
    found = known.get_models(include_auto_created=True)
    return [model for model in found if model._meta.managed and not model._meta.proxy]


def copy_as_it_is(*, source: str, target: str) -> None:
    """Make tables in `target`, a new file, of the form `source` is in, and copy all rows to them.

    That form may be behind this program: a backup is made just before it is brought up to date.
    """
    loader = MigrationLoader(connections[source])
    made = {name for name in loader.applied_migrations if name in loader.graph.nodes}
    ends = [name for name in made if not made & set(loader.graph.node_map[name].children)]
    MigrationExecutor(connections[target]).migrate(ends)
    then = loader.project_state(ends).apps
    copy_all_rows(source=source, target=target, known=then)


def copy_all_rows(*, source: str, target: str, known: Apps = apps) -> None:
    """Replace all rows of `target` by those of `source`, in one transaction of `target`."""
    with transaction.atomic(using=target):
        kinds = tables(known)
        _empty(connections[target], kinds)
        for model in kinds:
            _copy(model, source=source, target=connections[target])
        _continue_numbers(connections[target], kinds)


def _empty(connection: BaseDatabaseWrapper, kinds: list[type[models.Model]]) -> None:
    # TRUNCATE does not ask the guards of the event tables; SQLite files emptied here are new,
    # and their guarded tables hold nothing that could be refused.
    names = [connection.ops.quote_name(model._meta.db_table) for model in kinds]
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


def _continue_numbers(connection: BaseDatabaseWrapper, kinds: list[type[models.Model]]) -> None:
    """Let new rows be numbered after the copied ones."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), kinds):
            cursor.execute(statement)
