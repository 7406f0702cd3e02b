"""Does a served nursery copy itself, onto a stick too, and before an import changes its records?"""

from __future__ import annotations

import time
import zipfile
from pathlib import Path

import pytest

from batches.services import backup_file
from tests.running_nursery import PreparedNursery, RunningNursery

ONE_TRAY = """
from tests.factories import TrayFactory
TrayFactory.create()
"""


@pytest.fixture
def stick(tmp_path: Path) -> Path:
    folder = tmp_path / "media" / "green"
    folder.mkdir(parents=True)
    (folder / "frondbook-stick.txt").touch()
    return folder


@pytest.fixture
def with_a_stick(prepared_nursery: PreparedNursery, tmp_path: Path, stick: Path) -> RunningNursery:
    nursery = RunningNursery(
        prepared_nursery.copy_to(tmp_path / "data"),
        more_environment={"NURSERY_STICKS": str(stick.parent)},
    )
    nursery.command("shell", "--no-imports", "--command", ONE_TRAY)
    photos = nursery.data / "photos"
    photos.mkdir(exist_ok=True)
    (photos / "one.jpg").write_bytes(b"a photo")
    return nursery


def test_a_copy_that_the_manager_asks_for_lies_here_and_on_the_stick(
    with_a_stick: RunningNursery, stick: Path
) -> None:
    from tests.faults.desk import Desk

    with_a_stick.start()
    try:
        desk = Desk(with_a_stick)
        desk.sign_in("manager")
        assert desk.post("/backups/now/") == 302
        until = time.monotonic() + 60
        while not list((stick / "frondbook").glob("*.zip")) and time.monotonic() < until:
            time.sleep(0.2)
    finally:
        with_a_stick.stop()
    (there,) = (stick / "frondbook").glob("*.zip")
    (here,) = (with_a_stick.data / "backups").glob("frondbook-*.zip")
    assert here.name == there.name
    for file in (here, there):
        manifest = backup_file.read_through(file)
        assert manifest.rows["tray"] == 1
        assert "photos/one.jpg" in manifest.files


def test_an_import_into_records_keeps_a_copy_of_what_they_were(
    with_a_stick: RunningNursery, tmp_path: Path
) -> None:
    folder = tmp_path / "records"
    folder.mkdir()
    (folder / "houses.csv").write_text("code,name\nMist,the mist house\n", encoding="utf-8")
    with_a_stick.command("import_records", str(folder), "--dry-run")
    assert not (with_a_stick.data / "backups").exists()
    with_a_stick.command("import_records", str(folder))
    with_a_stick.command("import_records", str(folder))  # nothing new, nothing to keep
    (kept,) = (with_a_stick.data / "backups").glob("before-import-*.zip")
    manifest = backup_file.read_through(kept)
    assert manifest.rows["tray"] == 1
    assert manifest.rows["house"] == 0
    with zipfile.ZipFile(kept) as zipped:
        assert not [name for name in zipped.namelist() if name.startswith("photos/")]
