"""What happens when a newer program meets the records of an older one?"""

from __future__ import annotations

import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from tests.running_nursery import RunningNursery

pytestmark = pytest.mark.sqlite_only


@pytest.fixture
def older(tmp_path: Path) -> RunningNursery:
    """A nursery whose records are in the form before the last migration."""
    nursery = RunningNursery(tmp_path / "older")
    nursery.command("migrate", "batches", "0001", "--verbosity", "0")
    return nursery


def test_a_command_says_that_the_records_are_behind(older: RunningNursery) -> None:
    # The last migration brings guards alone; here it is as if a column came with it, too.
    with closing(sqlite3.connect(older.data / "nursery.sqlite3")) as database:
        database.execute("ALTER TABLE batches_tray RENAME COLUMN decide_on TO decided_by")
    refused = older.command("overdue", check=False)
    assert refused.returncode == 1
    assert "manage.py serve" in refused.stderr
    assert "Traceback" not in refused.stderr


def test_the_server_backs_them_up_and_brings_them_up_to_date(older: RunningNursery) -> None:
    older.start()
    older.stop()
    assert "The program is newer than its records" in older.said
    (backup,) = (older.data / "backups").glob("*.zip")
    with zipfile.ZipFile(backup) as zipped:
        assert '"batches.0001' in zipped.read("manifest.json").decode()
        assert '"batches.0002' not in zipped.read("manifest.json").decode()
    with closing(sqlite3.connect(older.data / "nursery.sqlite3")) as database:
        newest = "SELECT max(name) FROM django_migrations WHERE app = 'batches'"
        assert database.execute(newest).fetchone()[0] > "0002"
    older.command("overdue")
