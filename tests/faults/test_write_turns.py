"""Do the threads of one process write in turn, and does every way out give the turn back?

Each test has a database file and connections of its own: Django's test database lives in memory,
where SQLite neither waits nor keeps a log.
"""

from __future__ import annotations

import gc
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, cast

import pytest
from django.db import DatabaseError, OperationalError, connections, transaction
from django.db.utils import ConnectionHandler
from pytest_django.plugin import DjangoDbBlocker

from nursery.settings import sqlite_database
from nursery.sqlite_locked.base import DatabaseWrapper, write_turn_of

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]


@pytest.fixture
def connect(
    tmp_path: Path, django_db_blocker: DjangoDbBlocker
) -> Iterator[Callable[..., DatabaseWrapper]]:
    """Gives connections to one database file, set up as the program sets up its own."""
    made: list[DatabaseWrapper] = []

    def one(*, timeout: float = 20) -> DatabaseWrapper:
        settings = sqlite_database(tmp_path)
        settings["OPTIONS"] = {**settings["OPTIONS"], "timeout": timeout}
        handler = ConnectionHandler({"default": settings})
        connection = cast("DatabaseWrapper", handler.create_connection("default"))
        connection.inc_thread_sharing()
        made.append(connection)
        return connection

    with django_db_blocker.unblock():
        first = one()
        run(first, "CREATE TABLE counts (name TEXT PRIMARY KEY, n INTEGER CHECK (n < 1000000))")
        run(first, "INSERT INTO counts VALUES ('looks', 0)")
        yield one
        for connection in made:
            connection.close()


class Atomic:
    """`transaction.atomic()` for a connection that has no alias."""

    def __init__(self, connection: DatabaseWrapper) -> None:
        self.connection = connection

    def __enter__(self) -> DatabaseWrapper:
        self.connection.set_autocommit(False, force_begin_transaction_with_broken_autocommit=True)
        self.connection.in_atomic_block = True
        return self.connection

    def __exit__(self, kind: Any, *_: object) -> None:
        self.connection.in_atomic_block = False
        try:
            if kind is None:
                self.connection.commit()
            else:
                self.connection.rollback()
        finally:
            self.connection.set_autocommit(True)


def holds_the_turn(connection: DatabaseWrapper) -> bool:
    name = str(connection.settings_dict["NAME"])
    return write_turn_of(name).is_held_by(connection._token)


def turn_is_free(connection: DatabaseWrapper) -> bool:
    """Say whether a stranger could take the turn now."""
    turn, stranger = write_turn_of(str(connection.settings_dict["NAME"])), object()
    if not turn.take(stranger, timeout=0):
        return False
    turn.give_back(stranger)
    return True


def run(connection: DatabaseWrapper, statement: str, *values: int) -> Any:
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return cursor.fetchall() if cursor.description else None


def count(connection: DatabaseWrapper) -> int:
    return int(run(connection, "SELECT n FROM counts")[0][0])


def test_the_settings_arrive_in_the_file(connect: Callable[..., DatabaseWrapper]) -> None:
    connection = connect()
    assert run(connection, "PRAGMA journal_mode") == [("wal",)]
    assert run(connection, "PRAGMA synchronous") == [(2,)]  # FULL
    assert run(connection, "PRAGMA busy_timeout") == [(20000,)]
    assert run(connection, "PRAGMA foreign_keys") == [(1,)]


def test_eight_threads_that_read_and_then_write_lose_nothing_and_never_wait_in_vain(
    connect: Callable[..., DatabaseWrapper],
) -> None:
    waits: list[float] = []
    faults: list[Exception] = []

    def add() -> None:
        connection = connect()
        for _ in range(50):
            began = time.monotonic()
            try:
                with Atomic(connection):
                    seen = count(connection)
                    run(connection, "UPDATE counts SET n = %s", seen + 1)
            except DatabaseError as error:
                faults.append(error)
            waits.append(time.monotonic() - began)

    threads = [threading.Thread(target=add) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert faults == []
    assert count(connect()) == 400
    # Without the turn, SQLite's sleeping retries make the slowest wait a second and more.
    assert max(waits) < 1.0


def test_writers_without_a_transaction_queue_as_well(
    connect: Callable[..., DatabaseWrapper],
) -> None:
    faults: list[Exception] = []

    def add() -> None:
        connection = connect()
        for _ in range(50):
            try:
                run(connection, "UPDATE counts SET n = n + 1")
                run(connection, "UPDATE counts SET n = n + 1 RETURNING n")
            except DatabaseError as error:
                faults.append(error)
        assert turn_is_free(connection) or not holds_the_turn(connection)

    threads = [threading.Thread(target=add) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert faults == []
    assert count(connect()) == 800


def test_reading_takes_no_turn(connect: Callable[..., DatabaseWrapper]) -> None:
    writer, reader = connect(), connect(timeout=0.1)
    with Atomic(writer):
        run(writer, "UPDATE counts SET n = 5")
        assert holds_the_turn(writer)
        assert count(reader) == 0
    assert count(reader) == 5


def test_a_turn_is_held_from_the_beginning_of_a_transaction_to_its_end(
    connect: Callable[..., DatabaseWrapper],
) -> None:
    connection = connect()
    with Atomic(connection):
        assert holds_the_turn(connection)
        assert count(connection) == 0
        assert holds_the_turn(connection)
    assert turn_is_free(connection)


def test_whoever_waits_longer_than_the_timeout_is_told_as_sqlite_tells(
    connect: Callable[..., DatabaseWrapper],
) -> None:
    first, second = connect(), connect(timeout=0.2)
    with Atomic(first):
        began = time.monotonic()
        with pytest.raises(OperationalError, match="database is locked"), Atomic(second):
            pass
        assert 0.15 < time.monotonic() - began < 5
    with Atomic(second):
        run(second, "UPDATE counts SET n = 1")
    assert count(first) == 1


def roll_back(connection: DatabaseWrapper) -> None:
    def write_and_fail() -> None:
        with Atomic(connection):
            run(connection, "UPDATE counts SET n = 7")
            raise ValueError("on purpose")

    with pytest.raises(ValueError, match="on purpose"):
        write_and_fail()


def fail_a_statement(connection: DatabaseWrapper) -> None:
    with pytest.raises(DatabaseError), Atomic(connection):
        run(connection, "UPDATE counts SET n = 2000000")


def fail_outside_a_transaction(connection: DatabaseWrapper) -> None:
    with pytest.raises(DatabaseError):
        run(connection, "UPDATE counts SET n = 2000000")


def close_within(connection: DatabaseWrapper) -> None:
    connection.set_autocommit(False)
    run(connection, "UPDATE counts SET n = 7")
    assert holds_the_turn(connection)
    connection.close()


def end_by_hand(connection: DatabaseWrapper) -> None:
    run(connection, "BEGIN")
    run(connection, "UPDATE counts SET n = 7")
    assert holds_the_turn(connection)
    run(connection, "ROLLBACK")


def without_autocommit(connection: DatabaseWrapper) -> None:
    connection.set_autocommit(False)
    run(connection, "UPDATE counts SET n = 7")
    assert holds_the_turn(connection)
    connection.rollback()
    connection.set_autocommit(True)


def back_to_autocommit(connection: DatabaseWrapper) -> None:
    connection.set_autocommit(False)
    run(connection, "UPDATE counts SET n = n")
    assert holds_the_turn(connection)
    connection.set_autocommit(True)


def write_many_rows(connection: DatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        cursor.executemany("INSERT INTO counts VALUES (%s, %s)", [("a", 1), ("b", 2)])


def run_a_script(connection: DatabaseWrapper) -> None:
    with connection.cursor() as cursor:
        cursor.executescript("BEGIN; UPDATE counts SET n = 7; ROLLBACK;")


def begin_in_vain(connection: DatabaseWrapper) -> None:
    with pytest.raises(OperationalError), Atomic(connection):
        run(connection, "BEGIN")


@pytest.mark.parametrize(
    "way_out",
    [
        roll_back,
        fail_a_statement,
        fail_outside_a_transaction,
        close_within,
        end_by_hand,
        without_autocommit,
        back_to_autocommit,
        write_many_rows,
        run_a_script,
        begin_in_vain,
    ],
)
def test_every_way_out_gives_the_turn_back(
    connect: Callable[..., DatabaseWrapper], way_out: Callable[[DatabaseWrapper], None]
) -> None:
    connection = connect()
    way_out(connection)
    assert turn_is_free(connection)
    assert count(connect()) == 0


def test_a_turn_that_sqlite_itself_ended_is_given_back(
    connect: Callable[..., DatabaseWrapper],
) -> None:
    # A full disk makes SQLite roll a whole transaction back by itself; so does a limit of pages.
    connection = connect()
    run(connection, "PRAGMA max_page_count = 3")
    with pytest.raises(OperationalError, match="full"), Atomic(connection):
        run(connection, "CREATE TABLE large AS SELECT zeroblob(100000) AS z")
    assert turn_is_free(connection)


def test_a_forgotten_connection_gives_its_turn_back(
    connect: Callable[..., DatabaseWrapper], tmp_path: Path
) -> None:
    kept = connect()

    def forget() -> None:
        handler = ConnectionHandler({"default": sqlite_database(tmp_path)})
        connection = cast("DatabaseWrapper", handler.create_connection("default"))
        connection.set_autocommit(False)
        run(connection, "UPDATE counts SET n = 7")
        assert not turn_is_free(kept)
        connection.connection.close()

    thread = threading.Thread(target=forget)
    thread.start()
    thread.join(10)
    gc.collect()
    assert turn_is_free(kept)


def test_a_commit_that_fails_gives_the_turn_back(
    connect: Callable[..., DatabaseWrapper],
) -> None:
    connection = connect()
    run(
        connection, "CREATE TABLE child (name TEXT REFERENCES counts DEFERRABLE INITIALLY DEFERRED)"
    )
    with pytest.raises(DatabaseError), Atomic(connection):
        run(connection, "INSERT INTO child VALUES ('nobody')")
    connection.close()
    assert turn_is_free(connection)


def test_two_nurseries_do_not_wait_for_each_other(
    connect: Callable[..., DatabaseWrapper], tmp_path: Path
) -> None:
    other_folder = tmp_path / "other"
    other_folder.mkdir()
    handler = ConnectionHandler({"default": sqlite_database(other_folder)})
    other = cast("DatabaseWrapper", handler.create_connection("default"))
    try:
        with Atomic(connect()):
            run(other, "CREATE TABLE free (n)")
    finally:
        other.close()


def test_djangos_own_atomic_keeps_the_turn_through_savepoints_and_ends_it_before_hooks(
    connect: Callable[..., DatabaseWrapper], monkeypatch: pytest.MonkeyPatch
) -> None:
    connection = connect()
    monkeypatch.setattr(transaction, "get_connection", lambda _=None: connection)
    heard: list[bool] = []

    def fail_inside() -> None:
        with transaction.atomic():
            run(connection, "UPDATE counts SET n = 9")
            raise ValueError("on purpose")

    with transaction.atomic():
        run(connection, "UPDATE counts SET n = n + 1")
        with pytest.raises(ValueError, match="on purpose"):
            fail_inside()
        assert holds_the_turn(connection)
        transaction.on_commit(lambda: heard.append(turn_is_free(connection)))
    assert heard == [True]
    assert turn_is_free(connection)
    assert count(connection) == 1


def test_the_programs_own_database_is_of_this_kind(
    django_db_blocker: DjangoDbBlocker,
) -> None:
    assert isinstance(connections["default"], DatabaseWrapper)
    assert transaction.get_connection().settings_dict["ATOMIC_REQUESTS"] is False
