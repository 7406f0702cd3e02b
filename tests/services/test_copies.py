"""Are copies listed, thinned out and brought onto sticks without touching anything else?"""

from __future__ import annotations

import errno
from datetime import timedelta
from pathlib import Path

import pytest

from batches.services import backup_file, copies
from batches.services.backup import BackupFailed
from batches.services.copies import MARKER, STICK_FOLDER, copies_in, copy_to_stick, sticks
from tests.factories import NOW


def write_copy(folder: Path, *, days_ago: int, data: bytes = b"a copy", stem="frondbook") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    file = folder / f"{stem}-{NOW - timedelta(days=days_ago):%Y%m%d-%H%M%S}.zip"
    file.write_bytes(data)
    return file


def test_only_files_named_as_copies_are_listed_newest_first(tmp_path: Path) -> None:
    old, new = write_copy(tmp_path, days_ago=3), write_copy(tmp_path, days_ago=1)
    write_copy(tmp_path, days_ago=0, stem="before-import")
    for name in ("frondbook.zip", "frondbook-20260101-120000.zip.part", "frondbook-2026.zip"):
        (tmp_path / name).write_bytes(b"")
    assert [one.file for one in copies_in(tmp_path)] == [new, old]
    assert len(copies_in(tmp_path, stem="before-import")) == 1
    assert copies_in(tmp_path / "nowhere") == ()


def test_thinning_out_leaves_every_other_file_alone(tmp_path: Path) -> None:
    for days in range(100):
        write_copy(tmp_path, days_ago=days)
    others = [tmp_path / "letters.zip", write_copy(tmp_path, days_ago=90, stem="before-update")]
    others[0].write_bytes(b"")
    copies.thin_out(tmp_path)
    assert 7 + 3 + 2 <= len(copies_in(tmp_path)) <= 7 + 4 + 3
    assert [file for file in others if not file.exists()] == []


def test_a_stick_is_known_by_its_marker_as_deep_as_systems_mount_it(tmp_path: Path) -> None:
    found = [tmp_path / "one", tmp_path / "greta" / "two"]
    for stick in [*found, tmp_path / "a" / "b" / "too deep"]:
        stick.mkdir(parents=True)
        (stick / MARKER).touch()
    (tmp_path / "unmarked").mkdir()
    assert set(sticks([tmp_path, tmp_path / "nowhere"])) == set(found)


def stick_at(folder: Path) -> Path:
    folder.mkdir()
    (folder / MARKER).touch()
    return folder


def test_a_copy_comes_onto_a_stick_once_and_older_ones_are_thinned_out(tmp_path: Path) -> None:
    stick = stick_at(tmp_path / "stick")
    for days in range(1, 60):
        write_copy(stick / STICK_FOLDER, days_ago=days)
    write_copy(tmp_path / "here", days_ago=0, data=b"today's")
    (copy,) = copies_in(tmp_path / "here")
    there = copy_to_stick(copy, stick=stick)
    assert there.file.read_bytes() == b"today's"
    assert copy_to_stick(copy, stick=stick) == there
    assert len(copies_in(stick / STICK_FOLDER)) < 16
    assert not [file for file in (stick / STICK_FOLDER).iterdir() if file.name.startswith(".")]


def test_a_stick_that_keeps_something_else_than_was_written_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    stick = stick_at(tmp_path / "stick")
    older = write_copy(stick / STICK_FOLDER, days_ago=1)
    write_copy(tmp_path / "here", days_ago=0)
    (copy,) = copies_in(tmp_path / "here")
    true_hash = backup_file.sha256_of_path
    monkeypatch.setattr(
        backup_file,
        "sha256_of_path",
        lambda path: "0" * 64 if stick in path.parents else true_hash(path),
    )
    with pytest.raises(BackupFailed, match="does not read back"):
        copy_to_stick(copy, stick=stick)
    assert list((stick / STICK_FOLDER).iterdir()) == [older]


def test_a_full_stick_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    stick = stick_at(tmp_path / "stick")
    write_copy(tmp_path / "here", days_ago=0)
    (copy,) = copies_in(tmp_path / "here")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("batches.services.copies.shutil.copyfileobj", full)
    with pytest.raises(BackupFailed, match=r"No space left.*Make room on the stick"):
        copy_to_stick(copy, stick=stick)
    assert list((stick / STICK_FOLDER).iterdir()) == []
