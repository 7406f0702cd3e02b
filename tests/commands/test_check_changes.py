"""Does the command find what was altered beside the program, alone and against a copy?"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from uuid import UUID

import pytest

from tests.running_nursery import RunningNursery

pytestmark = pytest.mark.sqlite_only

LOOKS = """
from tests.factories import TrayCheckFactory
TrayCheckFactory.create_batch(3, note="as it was")
"""


def altered(nursery: RunningNursery, *statements: str, guards_back: bool = True) -> None:
    """Do what somebody can who opens the file with another program, and hides how."""
    with closing(sqlite3.connect(nursery.data / "nursery.sqlite3")) as database:
        guards = database.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
        kept = guards.fetchall()
        for name, _ in kept:
            database.execute(f"DROP TRIGGER {name}")
        for statement in statements:
            assert database.execute(statement).rowcount == 1
        for _, guard in kept if guards_back else ():
            database.execute(guard)
        database.commit()


def looks_of(nursery: RunningNursery) -> list[str]:
    with closing(sqlite3.connect(nursery.data / "nursery.sqlite3")) as database:
        rows = database.execute("SELECT id FROM batches_traycheck ORDER BY rowid").fetchall()
    return [str(UUID(row[0])) for row in rows]


def test_looks_and_notes_altered_beside_the_program_are_found(
    data_folder: RunningNursery, tmp_path: Path
) -> None:
    data_folder.command("shell", "--no-imports", "--command", LOOKS)
    data_folder.link_for("manager")
    copy = data_folder.answer("backup", str(tmp_path / "stick"))["file"]
    data_folder.link_for("hand")
    whole = data_folder.answer("check_changes", "--copy", copy)
    # Two links and a copy; the copy holds the first link's note and three looks.
    assert (whole["notes"], whole["faults"]) == (3, [])
    assert whole["compared"] == {"rows": 4, "faults": []}
    looks = looks_of(data_folder)
    altered(
        data_folder,
        "UPDATE batches_traycheck SET note = 'as it suits' WHERE rowid = 2",
        "DELETE FROM batches_traycheck WHERE rowid = 3",
        "UPDATE batches_changenote SET about = 'nobody' WHERE number = 1",
    )
    done = data_folder.command("check_changes", "--copy", copy, "--json", check=False)
    assert done.returncode == 1
    found = json.loads(done.stdout)
    assert found["faults"] == ["Note 1 was altered after it was written."]
    told = "\n".join(found["compared"]["faults"])
    assert f"{looks[1]} is not what it was (note)" in told
    assert f"{looks[2]} is in the copy and not here" in told
    assert len(found["compared"]["faults"]) == 3
    said = data_folder.command("check_changes", check=False)
    assert said.returncode == 1
    assert "Note 1 was altered" in said.stderr
    assert "Traceback" not in said.stderr


def test_guards_that_were_taken_away_are_missed_and_come_back_with_a_copy(
    data_folder: RunningNursery, tmp_path: Path
) -> None:
    altered(data_folder, guards_back=False)
    said = data_folder.command("check_changes", check=False)
    assert said.returncode == 1
    assert "Rows of batches_traycheck can be changed or deleted" in said.stderr
    amiss = [one["advice"] for one in data_folder.answer("doctor") if not one["ok"]]
    assert ["somebody took the guard away" in advice for advice in amiss] == [True]
    copy = data_folder.answer("backup", str(tmp_path / "stick"))["file"]
    data_folder.command("restore", copy)
    assert data_folder.answer("check_changes")["faults"] == []
    assert all(one["ok"] for one in data_folder.answer("doctor"))
