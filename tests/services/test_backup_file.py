"""Does a copy's own list tell when rows that are only ever added were changed inside it?"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest

from batches.services import backup_file
from batches.services.backup_file import DATABASE, MANIFEST, BadBackup, Manifest

LOOKS = [("b2", "Bryn Hale", "“wet”\n", None), ("a1", "Odile Marsh", "", 80), ("c3", "", "x", 0)]


@pytest.fixture
def database(tmp_path: Path) -> Path:
    """A file with three looks, stored in no order, and a table that may change."""
    file = tmp_path / DATABASE
    with closing(sqlite3.connect(file)) as made:
        made.execute("CREATE TABLE batches_traycheck (id PRIMARY KEY, by, note, count)")
        made.execute("CREATE TABLE batches_place (id PRIMARY KEY, by)")
        made.execute("CREATE TABLE batches_tray (id PRIMARY KEY, code)")
        made.executemany("INSERT INTO batches_traycheck VALUES (?, ?, ?, ?)", LOOKS)
        made.commit()
    return file


def packed(database: Path, *, events: dict[str, str]) -> Path:
    """Pack a copy of a database file, with a list that fits it but for the digests given."""
    manifest = Manifest(
        format=backup_file.FORMAT, made_at="", rows=backup_file.rows_in(database), migrations=[],
        files={DATABASE: backup_file.sha256_of_path(database)}, events=events,
    )  # fmt: skip
    file = database.parent / "copy.zip"
    with zipfile.ZipFile(file, "w") as zipped:
        zipped.writestr(MANIFEST, manifest.as_json())
        zipped.write(database, DATABASE)
    return file


def test_a_digest_is_what_anybody_reckons_from_the_bare_rows(database: Path) -> None:
    lines = "".join(
        "[" + ",".join(json.dumps(value, ensure_ascii=False) for value in look) + "]\n"
        for look in sorted(LOOKS)
    )
    assert backup_file.event_digests(database) == {
        "traycheck": hashlib.sha256(lines.encode()).hexdigest(),
        "place": hashlib.sha256(b"").hexdigest(),
    }


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE batches_traycheck SET note = 'as it suits' WHERE id = 'b2'",
        "UPDATE batches_traycheck SET count = '80' WHERE id = 'a1'",
        "UPDATE batches_traycheck SET id = 'b3' WHERE id = 'b2'",
        "UPDATE batches_traycheck SET note = by, by = note WHERE id = 'c3'",
    ],
)
def test_a_row_changed_inside_a_copy_is_told_though_the_files_hash_was_put_right(
    database: Path, change: str, tmp_path: Path
) -> None:
    before = backup_file.event_digests(database)
    with closing(sqlite3.connect(database)) as opened:
        opened.execute("UPDATE batches_tray SET code = 'x'")
        assert opened.execute(change).rowcount == 1
        opened.commit()
    file, out = packed(database, events=before), tmp_path / "out"
    out.mkdir()
    with pytest.raises(BadBackup, match=r"rows of traycheck that it says\. Nothing was changed"):
        backup_file.unpack(file, into=out)


@pytest.mark.parametrize("listed", [True, False])
def test_an_untouched_copy_is_taken_and_one_from_before_there_were_digests(
    database: Path, tmp_path: Path, listed: bool
) -> None:
    events = backup_file.event_digests(database) if listed else {}
    file = packed(database, events=events)
    (tmp_path / "out").mkdir()
    assert backup_file.unpack(file, into=tmp_path / "out").manifest.events == events


def test_a_list_without_digests_is_read(database: Path) -> None:
    file = packed(database, events={})
    with zipfile.ZipFile(file) as zipped:
        listed = json.loads(zipped.read(MANIFEST))
        data = zipped.read(DATABASE)
    del listed["events"]
    with zipfile.ZipFile(file, "w") as zipped:
        zipped.writestr(MANIFEST, json.dumps(listed))
        zipped.writestr(DATABASE, data)
    assert backup_file.read_through(file).events == {}
