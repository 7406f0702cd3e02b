"""Does one setting put the whole program on PostgreSQL, and move a nursery there and back?"""

from __future__ import annotations

import os
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from django.conf import settings

from tests.running_nursery import RunningNursery
from tests.services.records_io.folders import small, write

pytestmark = pytest.mark.postgres


@pytest.fixture
def on_postgres(tmp_path: Path) -> Iterator[RunningNursery]:
    """A nursery with a data folder and a PostgreSQL database of its own, both new."""
    here = settings.DATABASES["default"]
    name = f"nursery_{os.getpid()}"
    where = {"host": here["HOST"], "user": here["USER"], "dbname": "postgres", "autocommit": True}
    with psycopg.connect(**where) as server:
        server.execute(f"CREATE DATABASE {name}")
        url = f"postgresql://{here['USER']}@/{name}?host={here['HOST']}"
        nursery = RunningNursery(tmp_path / "data", more_environment={"NURSERY_DATABASE_URL": url})
        try:
            yield nursery
        finally:
            nursery.kill()
            server.execute(f"DROP DATABASE {name} WITH (FORCE)")


def test_a_nursery_is_served_backed_up_and_moved_to_sqlite_and_back(
    on_postgres: RunningNursery, tmp_path: Path
) -> None:
    on_postgres.start()
    with urllib.request.urlopen(on_postgres.link_for("hand"), timeout=30) as page:
        assert "Sign in as Bryn Hale" in page.read().decode()
    on_postgres.stop()
    assert not (on_postgres.data / "nursery.sqlite3").exists()
    made = on_postgres.answer("backup", str(tmp_path / "stick"))
    assert made["rows"]["person"] == 2

    on_sqlite = RunningNursery(tmp_path / "on SQLite")
    assert on_sqlite.answer("restore", made["file"])["rows"] == made["rows"]
    on_sqlite.command("signin_link", "Odile Marsh", "--role", "office")
    back = on_sqlite.answer("backup", str(tmp_path / "stick"))
    assert back["rows"]["person"] == 3

    assert on_postgres.answer("restore", back["file"])["rows"] == back["rows"]
    again = on_postgres.answer("backup", str(tmp_path / "stick"))
    assert again["rows"]["person"] == 3
    assert [finding for finding in on_postgres.answer("doctor") if not finding["ok"]] == []


def test_a_nursery_moves_to_an_empty_database_once_and_whole(
    on_postgres: RunningNursery, tmp_path: Path
) -> None:
    address = on_postgres.environment["NURSERY_DATABASE_URL"]
    here = RunningNursery(tmp_path / "on SQLite")
    here.command("import_records", str(write(tmp_path / "records", small())))
    here.command("signin_link", "Odile Marsh", "--role", "office")
    moved = here.answer("move_to_postgres", address)
    assert moved["moved"] is True
    assert moved["tables"]["batches_traycheck"]["rows"] == len(small()["checks"])
    # Run again, it finds what it moved; on the other side the same commands say the same.
    again = here.answer("move_to_postgres", address)
    assert (again["moved"], again["tables"]) == (False, moved["tables"])
    assert on_postgres.answer("overdue") == here.answer("overdue")
    assert on_postgres.answer("check_stored_dates")["differing"] == 0
    # New rows are numbered after the copied ones, and then it is no empty database any more.
    on_postgres.command("signin_link", "Bryn Hale", "--role", "hand")
    refused = here.command("move_to_postgres", address, check=False)
    assert refused.returncode == 1
    assert "holds other records already" in refused.stderr
    assert (
        on_postgres.answer("check_stored_dates")["trays"] == again["tables"]["batches_tray"]["rows"]
    )


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("mysql://somebody@/there", "not of the form postgresql://"),
        ("postgresql://nobody@/there?host=/nowhere-at-all", "cannot be used"),
    ],
)
def test_an_address_that_leads_nowhere_changes_nothing(
    tmp_path: Path, address: str, said: str
) -> None:
    here = RunningNursery(tmp_path / "here")
    refused = here.command("move_to_postgres", address, check=False)
    assert refused.returncode == 1
    assert said in refused.stderr
    assert "Nothing was changed" in refused.stderr


def test_who_is_on_postgresql_already_is_told(on_postgres: RunningNursery) -> None:
    address = on_postgres.environment["NURSERY_DATABASE_URL"]
    refused = on_postgres.command("move_to_postgres", address, check=False)
    assert refused.returncode == 1
    assert "already" in refused.stderr
