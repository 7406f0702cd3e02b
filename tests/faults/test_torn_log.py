"""Are the records a clean beginning of what was stored, however the write-ahead log was torn?

A power cut can leave the log cut short, or with nonsense at its end. SQLite's promise is that
every transaction is there whole or not at all, in order (sqlite.org/atomiccommit.html and
sqlite.org/wal.html); these tests hold the program's own settings to it.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import cast

import pytest
from django.db.utils import ConnectionHandler
from pytest_django.plugin import DjangoDbBlocker

from nursery.settings import sqlite_database
from nursery.sqlite_locked.base import DatabaseWrapper
from tests.faults.conftest import Turns

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

COMMITS = 50


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: DjangoDbBlocker) -> Path:
    """A folder with a database and its log as a cut would find them after fifty transactions."""
    live, found = tmp_path_factory.mktemp("live"), tmp_path_factory.mktemp("found")
    with django_db_blocker.unblock():
        handler = ConnectionHandler({"default": sqlite_database(live)})
        connection = cast("DatabaseWrapper", handler.create_connection("default"))
        with connection.cursor() as cursor:
            cursor.execute("CREATE TABLE looks (n INTEGER PRIMARY KEY, note TEXT)")
            cursor.execute("CREATE TABLE counts (n INTEGER)")
            cursor.execute("INSERT INTO counts VALUES (0)")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            for number in range(1, COMMITS + 1):
                cursor.execute("BEGIN IMMEDIATE")
                cursor.execute("INSERT INTO looks VALUES (%s, %s)", [number, "x" * 300])
                cursor.execute("UPDATE counts SET n = n + 1")
                cursor.execute("COMMIT")
        for end in ("", "-wal"):
            shutil.copy2(live / f"nursery.sqlite3{end}", found)
        connection.close()
    return found


def commits_left(folder: Path) -> int:
    """Give how many transactions are there, after checking that they are a clean beginning."""
    with closing(sqlite3.connect(folder / "nursery.sqlite3")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        numbers = [row[0] for row in database.execute("SELECT n FROM looks ORDER BY n")]
        (counted,) = database.execute("SELECT n FROM counts").fetchone()
    assert numbers == list(range(1, len(numbers) + 1))
    assert counted == len(numbers)
    return len(numbers)


def test_an_untorn_log_gives_everything_back(written: Path, tmp_path: Path) -> None:
    shutil.copytree(written, tmp_path, dirs_exist_ok=True)
    assert commits_left(tmp_path) == COMMITS


def test_a_torn_log_gives_a_clean_beginning_back(
    written: Path, tmp_path: Path, turns: Turns
) -> None:
    chance = random.Random(2026)
    whole = (written / "nursery.sqlite3-wal").read_bytes()
    left = []
    for number in turns(120, 2_000):
        folder = tmp_path / str(number)
        shutil.copytree(written, folder)
        torn = bytearray(whole[: chance.randrange(len(whole))])
        if number % 2 and torn:
            at = chance.randrange(len(torn))
            length = min(len(torn) - at, chance.randrange(1, 5000))
            torn[at : at + length] = chance.randbytes(length)
        (folder / "nursery.sqlite3-wal").write_bytes(torn)
        left.append(commits_left(folder))
        shutil.rmtree(folder)
    # The tears fall everywhere: some leave little, some nearly all, and no two thirds the same.
    assert min(left) < COMMITS / 5
    assert max(left) > COMMITS * 4 / 5
    assert len(set(left)) > COMMITS / 3
