"""How do eight threads write to one SQLite file without standing in each other's way?

SQLite lets one writer in at a time and makes the others poll for their turn; under load the poll
is unfair and slow. Here the threads of one process queue at a lock of their own before they ask
SQLite. The lock is taken where a transaction starts (an explicit BEGIN, or any writing statement
outside one) and given back where it ends: commit, rollback, a statement that ended by itself, an
error that made SQLite roll back, a closed or forgotten connection. It is always taken before
SQLite's own, never the other way round. Other processes still wait at SQLite's.
"""

from __future__ import annotations

import os
import sqlite3
import threading
import weakref
from collections.abc import Iterable
from typing import Any

from django.db.backends.sqlite3 import base
from django.db.backends.sqlite3.base import SQLiteCursorWrapper

# A statement that begins with another word (a common table expression, too) is taken for a
# writing one.
READING_WORDS = frozenset({"SELECT", "PRAGMA", "EXPLAIN", "VALUES"})


class WriteTurn:
    """One process's turn at writing to one database file, held by at most one connection."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._holder: object | None = None

    def take(self, holder: object, *, timeout: float) -> bool:
        """Wait for the turn; yes where `holder` has it now, no where it did not come in time."""
        if self._holder is holder:
            return True
        if not self._lock.acquire(timeout=timeout):
            return False
        self._holder = holder
        return True

    def give_back(self, holder: object) -> None:
        """Let the next one write; nothing happens where `holder` does not have the turn."""
        if self._holder is holder:
            self._holder = None
            self._lock.release()

    def is_held_by(self, holder: object) -> bool:
        """Say whether `holder` has the turn."""
        return self._holder is holder


_turns: dict[str, WriteTurn] = {}
_turns_guard = threading.Lock()


def write_turn_of(name: str) -> WriteTurn:
    """Give the turn that all connections of this process to the database `name` share."""
    key = name if name.startswith("file:") else os.path.realpath(name)
    with _turns_guard:
        return _turns.setdefault(key, WriteTurn())


class LockingCursor(SQLiteCursorWrapper):
    """A cursor that writes in turn, and ends the turn when no transaction is left open."""

    def __init__(self, connection: Any, wrapper: DatabaseWrapper) -> None:
        super().__init__(connection)
        self._wrapper = wrapper

    def execute(self, query: str, params: Any = None) -> Any:
        """Run one statement in this connection's turn."""
        self._wrapper.take_turn_for(query)
        try:
            return super().execute(query, params)
        finally:
            self._wrapper.give_turn_back_if_idle()

    def executemany(self, query: str, param_list: Iterable[Any]) -> Any:
        """Run one statement for many rows in this connection's turn."""
        self._wrapper.take_turn_for(query)
        try:
            return super().executemany(query, param_list)
        finally:
            self._wrapper.give_turn_back_if_idle()

    def executescript(self, sql_script: str) -> Any:
        """Run several statements in this connection's turn."""
        self._wrapper.take_turn_for("")
        try:
            return super().executescript(sql_script)
        finally:
            self._wrapper.give_turn_back_if_idle()


class DatabaseWrapper(base.DatabaseWrapper):
    """Django's SQLite backend, with the writers of one process in a queue."""

    transaction_mode: str | None  # set by Django where it reads the options

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._turn: WriteTurn | None = None
        self._token = object()

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """Open the file, and find the turn that belongs to it."""
        connection = super().get_new_connection(conn_params)
        name = str(conn_params["database"])
        # Every connection to `:memory:` is a database of its own: there is nobody to wait for.
        turn = None if name in {":memory:", ""} else write_turn_of(name)
        if turn is not None and turn is not self._turn:
            weakref.finalize(self, turn.give_back, self._token)
        self._turn = turn
        return connection

    def create_cursor(self, name: Any = None) -> Any:
        """Give a cursor that keeps to the turn."""
        return self.connection.cursor(factory=lambda connection: LockingCursor(connection, self))

    def take_turn_for(self, query: str) -> None:
        """Wait for the turn unless the statement only reads.

        Raises
        ------
        sqlite3.OperationalError
            The turn did not come within the connection's `timeout`, as SQLite itself would answer.
        """
        if self._turn is None or self._turn.is_held_by(self._token):
            return
        words = query.split(None, 1)
        if words and words[0].upper() in READING_WORDS:
            return
        if not self._turn.take(
            self._token, timeout=self.settings_dict["OPTIONS"].get("timeout", 5)
        ):
            raise sqlite3.OperationalError("database is locked")

    def give_turn_back_if_idle(self) -> None:
        """Give the turn back unless a transaction is still open."""
        if self._turn is not None and not self._is_in_transaction():
            self._turn.give_back(self._token)

    def _is_in_transaction(self) -> bool:
        try:
            return self.connection is not None and bool(self.connection.in_transaction)
        except sqlite3.ProgrammingError:
            return False  # closed

    def _set_autocommit(self, autocommit: bool) -> None:  # noqa: FBT001 - Django's own signature
        # Where code turns autocommit off, the transaction that sqlite3 opens by itself has to ask
        # for the write lock at once, as every other one here does.
        with self.wrap_database_errors:
            self.connection.isolation_level = None if autocommit else (self.transaction_mode or "")
        self.give_turn_back_if_idle()

    # Django's stubs leave the next three out.

    def _commit(self) -> None:
        try:
            super()._commit()  # type: ignore[misc]
        finally:
            self.give_turn_back_if_idle()

    def _rollback(self) -> None:
        try:
            super()._rollback()  # type: ignore[misc]
        finally:
            self.give_turn_back_if_idle()

    def _close(self) -> None:
        try:
            super()._close()  # type: ignore[misc]
        finally:
            if self._turn is not None:
                self._turn.give_back(self._token)
