"""What is left when an import, or a change of the records' form, is killed at some moment?"""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.faults.conftest import Turns
from tests.faults.test_killed_backup import kill_after, time_of
from tests.running_nursery import PreparedNursery, RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

HOUSES = 4_000


def houses_in(folder: Path) -> int:
    with closing(sqlite3.connect(folder / "nursery.sqlite3")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        (count,) = database.execute("SELECT count(*) FROM batches_house").fetchone()
    return int(count)


def test_a_killed_import_stored_all_or_nothing(
    prepared_nursery: PreparedNursery, tmp_path: Path, turns: Turns
) -> None:
    records = tmp_path / "records"
    records.mkdir()
    rows = "".join(f"H{number:05d},the house {number}\n" for number in range(HOUSES))
    (records / "houses.csv").write_text(f"code,name\n{rows}", encoding="utf-8")
    timed = RunningNursery(prepared_nursery.copy_to(tmp_path / "timed"))
    took = time_of(timed, "import_records", str(records))
    assert houses_in(timed.data) == HOUSES
    chance = random.Random(6)
    for number in turns(4, 20):
        nursery = RunningNursery(prepared_nursery.copy_to(tmp_path / f"killed-{number}"))
        kill_after(nursery, chance.uniform(0.5, 1.0) * took, "import_records", str(records))
        assert houses_in(nursery.data) in {0, HOUSES}
        nursery.command("import_records", str(records))
        assert houses_in(nursery.data) == HOUSES
        shutil.rmtree(nursery.data)


def test_a_killed_change_of_form_is_made_to_its_end_by_the_next_start(
    tmp_path: Path, turns: Turns
) -> None:
    older = RunningNursery(tmp_path / "older")
    older.command("migrate", "batches", "0001", "--verbosity", "0")
    base = PreparedNursery(older.data)
    timed = RunningNursery(base.copy_to(tmp_path / "timed"))
    took = time_of(timed, "migrate", "--verbosity", "0")
    chance = random.Random(7)
    for number in turns(2, 20):
        nursery = RunningNursery(base.copy_to(tmp_path / f"killed-{number}"))
        kill_after(nursery, chance.uniform(0.4, 1.0) * took, "migrate", "--verbosity", "0")
        assert houses_in(nursery.data) == 0
        nursery.command("migrate", "--verbosity", "0")
        assert nursery.answer("check_changes")["faults"] == []
