"""Is a backup whole or not there, and does a restore give back what was there, or touch nothing?"""

from __future__ import annotations

import hashlib
import json
import resource
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from tests.running_nursery import ROOT, PreparedNursery, RunningNursery

pytestmark = pytest.mark.sqlite_only

FILL = """
from django.conf import settings
from pathlib import Path
from tests.factories import NOW, TrayCheckFactory
from batches.models import CheckPhoto, Tray
tray = Tray.objects.first()
looks = TrayCheckFactory.create_batch({count}, **({{"tray": tray}} if tray else {{}}))
photos = Path(settings.MEDIA_ROOT)
photos.mkdir(exist_ok=True)
import hashlib
picture = b"a picture of look 1" * 1000
row = CheckPhoto(check_row=looks[0], sha256=hashlib.sha256(picture).hexdigest(), width=1, height=1,
                 recorded_at=NOW)
row.file = f"{{row.id}}.jpg"
row.save()
(photos / row.file).write_bytes(picture)
"""


def fill(nursery: RunningNursery, count: int = 20) -> None:
    """Store some looks and a photo."""
    nursery.command("shell", "--no-imports", "--command", FILL.format(count=count))


def everything(data: Path) -> dict[str, Any]:
    """Give all that a data folder holds, row by row and photo by photo, but for what it notes.

    A second way to look at it than the program's own: plain SQL, and no counting.
    """
    found: dict[str, Any] = {}
    with closing(sqlite3.connect(data / "nursery.sqlite3")) as database:
        names = database.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        for (name,) in names:
            if name not in {"batches_nurserysetting", "batches_changenote", "sqlite_sequence"}:
                rows = database.execute(f'SELECT * FROM "{name}"')  # noqa: S608 - its own names
                found[name] = sorted(map(repr, rows))
    for photo in sorted((data / "photos").glob("*")):
        found[photo.name] = photo.read_bytes()
    return found


@pytest.fixture(scope="module")
def original(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, Path]:
    """The data folder of a nursery with twenty looks and a photo, and a backup of it."""
    folder = tmp_path_factory.mktemp("filled")
    nursery = RunningNursery(prepared_nursery.copy_to(folder / "data"))
    fill(nursery)
    return nursery.data, Path(nursery.answer("backup", str(folder / "stick"))["file"])


@pytest.fixture
def filled(original: tuple[Path, Path], tmp_path: Path) -> RunningNursery:
    """A nursery with twenty looks and a photo."""
    return RunningNursery(PreparedNursery(original[0]).copy_to(tmp_path / "data"))


@pytest.fixture
def backup(original: tuple[Path, Path], tmp_path: Path) -> Path:
    """A backup of that nursery."""
    (tmp_path / "stick").mkdir()
    return Path(shutil.copy2(original[1], tmp_path / "stick"))


def test_a_backup_is_one_file_with_all_records_and_photos(
    filled: RunningNursery, tmp_path: Path
) -> None:
    made = filled.answer("backup", str(tmp_path / "stick" / "frond"))
    file = Path(made["file"])
    assert file.is_absolute()
    assert file.parent == tmp_path / "stick" / "frond"
    assert [path.name for path in file.parent.iterdir()] == [file.name]
    assert made["sha256"] == hashlib.sha256(file.read_bytes()).hexdigest()
    assert made["rows"]["traycheck"] == 20
    assert made["rows"]["checkphoto"] == 1
    with zipfile.ZipFile(file) as zipped:
        names = zipped.namelist()
        digests = json.loads(zipped.read("manifest.json"))["events"]
    nothing = hashlib.sha256().hexdigest()
    assert len(digests) == 9
    assert {kind for kind in digests if digests[kind] != nothing} == {"traycheck", "changenote"}
    assert names[:2] == ["manifest.json", "nursery.sqlite3"]
    assert len(names) == 3
    assert names[2].startswith("photos/")


def test_a_backup_is_made_while_the_server_works(nursery: RunningNursery, tmp_path: Path) -> None:
    nursery.link_for("hand")
    made = nursery.answer("backup", str(tmp_path / "stick"))
    assert made["rows"]["person"] == 2  # the manager of the first start, and the hand


def test_two_backups_of_one_second_have_two_names(filled: RunningNursery, tmp_path: Path) -> None:
    makes = [
        subprocess.Popen(
            [sys.executable, "manage.py", "backup", str(tmp_path / "stick"), "--json"],
            cwd=ROOT,
            env=filled.environment,
            stdout=subprocess.PIPE,
        )
        for _ in range(2)
    ]
    files = {json.loads(make.communicate(timeout=60)[0])["file"] for make in makes}
    assert len(files) == 2
    assert all(zipfile.is_zipfile(file) for file in files)


def test_a_restore_into_a_new_nursery_gives_everything_back(
    filled: RunningNursery, backup: Path, tmp_path: Path
) -> None:
    other = RunningNursery(tmp_path / "fresh PC")
    restored = other.answer("restore", str(backup))
    assert restored["file"] == str(backup)
    assert restored["sha256"] == hashlib.sha256(backup.read_bytes()).hexdigest()
    assert restored["rows"]["traycheck"] == 20
    assert everything(other.data) == everything(filled.data)
    assert not list(other.data.glob("set-aside*"))
    assert not list(other.data.glob(".restoring*"))
    other.start()
    other.stop()


def test_a_restore_sets_what_was_there_aside_and_begins_a_new_generation(
    filled: RunningNursery, backup: Path
) -> None:
    before = everything(filled.data)
    fill(filled, count=5)
    later = everything(filled.data)
    assert later != before
    said = filled.command("restore", str(backup)).stdout
    # Photos are only ever added: one that the restored records do not know yet does no harm.
    after = everything(filled.data)
    assert {name: after[name] for name in before} == before
    (aside,) = filled.data.glob("set-aside-*")
    assert str(aside) in said
    set_aside = everything(aside)
    assert all(set_aside[name] == later[name] for name in set_aside)
    assert len(set_aside["batches_traycheck"]) == 25
    question = "from batches.services.generation import current_generation as g; print(g())"
    ask = ("shell", "--no-imports", "--command", question)
    assert filled.command(*ask).stdout.strip() == "2"
    filled.command("restore", str(backup))
    assert filled.command(*ask).stdout.strip() == "3"


def test_a_drill_says_the_same_and_touches_nothing(nursery: RunningNursery, tmp_path: Path) -> None:
    fill(nursery, count=3)
    made = nursery.answer("backup", str(tmp_path / "stick"))
    fill(nursery, count=2)
    before = everything(nursery.data)
    assert nursery.answer("restore", "--drill", made["file"]) == made
    assert everything(nursery.data) == before
    assert not list(nursery.data.glob("set-aside*"))


def test_a_drill_of_a_damaged_backup_says_so(filled: RunningNursery, backup: Path) -> None:
    flip_a_byte(backup)
    refused = filled.command("restore", "--drill", str(backup), check=False)
    assert refused.returncode == 1
    assert "Take an older backup" in refused.stderr


def test_a_restore_beside_a_running_server_is_refused(
    nursery: RunningNursery, tmp_path: Path
) -> None:
    made = nursery.answer("backup", str(tmp_path / "stick"))
    assert nursery.process is not None
    refused = nursery.command("restore", made["file"], check=False)
    assert refused.returncode == 1
    assert f"process {nursery.process.pid}" in refused.stderr


def test_a_restore_beside_another_command_is_refused_and_changes_nothing(
    filled: RunningNursery, backup: Path
) -> None:
    with closing(sqlite3.connect(filled.data / "nursery.sqlite3")) as other:
        other.execute("SELECT count(*) FROM batches_traycheck").fetchone()
        other.execute("BEGIN IMMEDIATE")
        refused = filled.command("restore", str(backup), check=False)
        other.rollback()
    assert refused.returncode == 1
    assert "Another command is at work" in refused.stderr
    assert len(everything(filled.data)["batches_traycheck"]) == 20


def test_damaged_records_are_set_aside_and_replaced(filled: RunningNursery, backup: Path) -> None:
    before = everything(filled.data)
    (filled.data / "nursery.sqlite3").write_bytes(b"no database any more " * 1000)
    filled.command("restore", str(backup))
    assert everything(filled.data) == before
    (aside,) = filled.data.glob("set-aside-*")
    assert (aside / "nursery.sqlite3").read_bytes().startswith(b"no database any more")


def flip_a_byte(file: Path) -> None:
    with zipfile.ZipFile(file) as zipped:
        at = zipped.getinfo("nursery.sqlite3").header_offset + 2000
    content = bytearray(file.read_bytes())
    content[at] ^= 0xFF
    file.write_bytes(content)


def cut_short(file: Path) -> None:
    file.write_bytes(file.read_bytes()[:-5000])


def empty(file: Path) -> None:
    file.write_bytes(b"")


def put_text(file: Path) -> None:
    file.write_text("This was a backup once.")


def remove(file: Path) -> None:
    file.unlink()


def rewrite(file: Path, change: Callable[[dict[str, Any]], None], *more: tuple[str, bytes]) -> None:
    """Write a backup anew with a changed list of contents."""
    with zipfile.ZipFile(file) as zipped:
        kept = {name: zipped.read(name) for name in zipped.namelist()}
    manifest = json.loads(kept.pop("manifest.json"))
    change(manifest)
    with zipfile.ZipFile(file, "w") as zipped:
        zipped.writestr("manifest.json", json.dumps(manifest))
        for name, content in [*kept.items(), *more]:
            zipped.writestr(name, content)


def come_from_a_newer_program(file: Path) -> None:
    rewrite(file, lambda manifest: manifest["migrations"].append("batches.9999_moss_on_mars"))


def come_in_a_newer_form(file: Path) -> None:
    rewrite(file, lambda manifest: manifest.update(format=2))


def lack_a_photo(file: Path) -> None:
    rewrite(file, lambda manifest: manifest["files"].update({"photos/lost.jpg": "0" * 64}))


def lead_outside(file: Path) -> None:
    evil = hashlib.sha256(b"evil").hexdigest()
    rewrite(
        file,
        lambda manifest: manifest["files"].update({"../evil.txt": evil}),
        ("../evil.txt", b"evil"),
    )


def claim_other_rows(file: Path) -> None:
    rewrite(file, lambda manifest: manifest["rows"].update(traycheck=21))


def list_nothing(file: Path) -> None:
    rewrite(file, lambda manifest: manifest.clear())


@pytest.mark.parametrize(
    "damage",
    [
        flip_a_byte,
        cut_short,
        empty,
        put_text,
        remove,
        come_from_a_newer_program,
        come_in_a_newer_form,
        lack_a_photo,
        lead_outside,
        claim_other_rows,
        list_nothing,
    ],
)
def test_a_damaged_or_foreign_backup_is_refused_in_words_and_nothing_is_changed(
    filled: RunningNursery, backup: Path, damage: Callable[[Path], None], tmp_path: Path
) -> None:
    before = everything(filled.data)
    damage(backup)
    refused = filled.command("restore", str(backup), check=False)
    assert refused.returncode == 1
    assert "Nothing was changed" in refused.stderr
    assert "Traceback" not in refused.stderr
    assert everything(filled.data) == before
    assert not list(filled.data.glob("set-aside*"))
    assert not list(tmp_path.rglob("evil.txt"))


def test_a_full_disk_leaves_no_half_backup_and_the_older_ones_alone(
    filled: RunningNursery, backup: Path
) -> None:
    kept = backup.read_bytes()

    def allow_little() -> None:
        # The system's own limit of a file's size stands in for a full disk: the write fails.
        resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))

    done = subprocess.run(
        [sys.executable, "manage.py", "backup", str(backup.parent)],
        cwd=ROOT,
        env=filled.environment,
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=allow_little,
    )
    assert done.returncode == 1
    assert "older backups are untouched" in done.stderr
    assert "Traceback" not in done.stderr
    assert [path.name for path in backup.parent.iterdir()] == [backup.name]
    assert backup.read_bytes() == kept


def test_a_folder_that_cannot_be_made_is_named(filled: RunningNursery, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    refused = filled.command("backup", str(tmp_path / "file" / "stick"), check=False)
    assert refused.returncode == 1
    assert str(tmp_path / "file" / "stick") in refused.stderr
    assert "Traceback" not in refused.stderr
