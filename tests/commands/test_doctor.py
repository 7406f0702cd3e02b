"""Does the doctor look at a whole machine, even one whose records are broken?"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.running_nursery import PreparedNursery, RunningNursery

pytestmark = pytest.mark.sqlite_only


def test_the_doctor_lists_what_it_looked_at(data_folder: RunningNursery) -> None:
    found = data_folder.answer("doctor")
    assert all(set(finding) == {"check", "ok", "advice"} for finding in found)
    amiss = [finding for finding in found if not finding["ok"]]
    assert amiss == []
    said = data_folder.command("doctor").stdout
    assert "well   records whole" in said


def test_the_doctor_sees_broken_records_and_says_what_to_do(data_folder: RunningNursery) -> None:
    (data_folder.data / "nursery.sqlite3").write_bytes(b"no database " * 1000)
    found = data_folder.answer("doctor")
    amiss = {finding["check"]: finding["advice"] for finding in found if not finding["ok"]}
    assert "restore the newest backup" in amiss["records whole"]
    assert "Python" in found[0]["check"]
    assert found[0]["ok"]


def test_the_doctor_of_a_new_folder_finds_nothing_amiss(data_folder: RunningNursery) -> None:
    fresh = RunningNursery(data_folder.data.parent / "fresh")
    assert all(finding["ok"] for finding in fresh.answer("doctor"))


def test_the_older_journal_spares_the_caution_and_its_records_stay(
    prepared_nursery: PreparedNursery, tmp_path: Path
) -> None:
    folder = prepared_nursery.copy_to(tmp_path / "data")
    nursery = RunningNursery(folder, more_environment={"NURSERY_SQLITE_JOURNAL": "delete"})
    nursery.link_for("manager")
    (found,) = [one for one in nursery.answer("doctor") if one["check"].startswith("SQLite")]
    assert found["advice"] == ""
    assert not (folder / "nursery.sqlite3-wal").exists()
    assert nursery.answer("check_changes")["notes"] == 1
