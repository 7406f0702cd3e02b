"""Who may have this data folder to themselves, and is its database ready?"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, connections
from django.db.migrations.executor import MigrationExecutor
from filelock import FileLock, Timeout

from batches.core.errors import NurseryError


class DataFolderTaken(NurseryError):
    """Another process of this program has the data folder to itself."""


@contextmanager
def sole_use(*, folder: Path) -> Iterator[None]:
    """Keep the data folder for this process while it serves or restores a backup.

    Raises
    ------
    DataFolderTaken
        Another process has it; the message names its number.
    """
    lock = FileLock(folder / "server.lock", timeout=0)
    number = folder / "server.pid"
    try:
        lock.acquire()
    except Timeout:
        try:
            holder = f"process {int(number.read_text(encoding='ascii'))}"
        except (OSError, ValueError):
            holder = "another process"
        raise DataFolderTaken(
            f"A server already uses the data folder {folder} ({holder}). Nothing was changed. "
            "Stop that one first, or name another folder in NURSERY_DATA."
        ) from None
    try:
        number.write_text(f"{os.getpid()}\n", encoding="ascii")
        yield
    finally:
        number.unlink(missing_ok=True)
        lock.release()


def pending_migrations() -> list[str]:
    """Give the changes to the database's form that were not made yet, in order."""
    executor = MigrationExecutor(connections[DEFAULT_DB_ALIAS])
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    return [f"{migration.app_label}.{migration.name}" for migration, _ in plan]


def is_new_database() -> bool:
    """Say whether the database holds no table yet."""
    return not connections[DEFAULT_DB_ALIAS].introspection.table_names()
