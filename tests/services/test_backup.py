"""Does a backup hold every row whatever database the nursery runs on, and move it to the other?"""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.base.base import BaseDatabaseWrapper

from batches.models import Person, Tray, TrayCheck
from batches.services import backup_file, generation, other_database, restore
from batches.services.backup import make_backup
from tests.factories import (
    KeepingChangeFactory,
    PersonFactory,
    StageTransitionFactory,
    TrayCheckFactory,
)


def all_rows(database: str = DEFAULT_DB_ALIAS) -> dict[str, list[dict[str, Any]]]:
    """Give every stored value of every row, by kind: read by Django on either database."""
    return {
        str(model._meta.label): list(model._base_manager.using(database).order_by("pk").values())
        for model in other_database.tables()
        if model._meta.app_label == "batches"
    }


@pytest.fixture(autouse=True)
def backup_files_may_be_opened(db: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a backup's database be opened: in tests, Django forbids any that it was not told of."""
    guarded = BaseDatabaseWrapper.ensure_connection

    def ensure_connection(self: BaseDatabaseWrapper) -> None:
        if not self.alias.startswith(other_database.ALIAS):
            guarded(self)
        elif self.connection is None:
            self.connect()

    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", ensure_connection)


@pytest.fixture
def photos(tmp_path: Path) -> Path:
    """A folder with one photo."""
    folder = tmp_path / "photos"
    folder.mkdir()
    (folder / "one.jpg").write_bytes(os.urandom(5000))
    (folder / ".two.jpg.part").write_bytes(b"half a photo")
    return folder


@pytest.mark.django_db
def test_a_backup_holds_every_value_of_every_row(
    tmp_path: Path, photos: Path, now: datetime
) -> None:
    PersonFactory(manager=True)
    TrayCheckFactory.create_batch(3)
    StageTransitionFactory()
    KeepingChangeFactory()
    made = make_backup(folder=tmp_path / "stick", photos=photos, now=now)
    (tmp_path / "out").mkdir()
    unpacked = backup_file.unpack(made.file, into=tmp_path / "out")
    with other_database.database_file(unpacked.database) as copy:
        stored = all_rows(copy)
    assert stored == all_rows()
    assert made.rows["traycheck"] == 3
    assert made.rows == unpacked.manifest.rows
    assert (unpacked.photos / "one.jpg").read_bytes() == (photos / "one.jpg").read_bytes()
    assert not (unpacked.photos / ".two.jpg.part").exists()


@pytest.mark.django_db
def test_records_that_are_behind_the_program_are_copied_in_the_form_they_are_in(
    tmp_path: Path,
) -> None:
    # 0001 makes our tables and those they need: no guards, and none of what Django adds by itself.
    with (
        other_database.database_file(tmp_path / "behind") as behind,
        other_database.database_file(tmp_path / "copy", alias=f"{behind}_2") as copy,
    ):
        call_command("migrate", "batches", "0001", database=behind, verbosity=0)
        assert "django_session" not in connections[behind].introspection.table_names()
        with connections[behind].cursor() as cursor:
            cursor.execute(
                "INSERT INTO batches_house (code, name, light_note, temperature_note, frost_free) "
                "VALUES ('H1', 'mist house', '', '', 1)"
            )
        other_database.copy_as_it_is(source=behind, target=copy)
        with connections[copy].cursor() as cursor:
            cursor.execute("SELECT code, name FROM batches_house")
            assert cursor.fetchall() == [("H1", "mist house")]
    was = backup_file.migrations_in(tmp_path / "behind")
    assert sorted(backup_file.migrations_in(tmp_path / "copy")) == sorted(was)
    assert backup_file.rows_in(tmp_path / "copy") == backup_file.rows_in(tmp_path / "behind")


@pytest.mark.django_db
def test_a_drill_of_it_gives_the_same_answer(tmp_path: Path, photos: Path, now: datetime) -> None:
    TrayCheckFactory.create_batch(2)
    made = make_backup(folder=tmp_path / "stick", photos=photos, now=now)
    tried = restore.drill(file=made.file)
    assert (tried.file, tried.sha256, tried.rows) == (made.file, made.sha256, made.rows)
    assert tried.set_aside is None


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_restore_replaces_all_rows_sets_the_old_ones_aside_and_goes_on_numbering(
    tmp_path: Path, photos: Path, now: datetime
) -> None:
    PersonFactory(manager=True)
    TrayCheckFactory.create_batch(3)
    before = all_rows()
    made = make_backup(folder=tmp_path / "stick", photos=photos, now=now)
    TrayCheckFactory.create_batch(4)
    data = tmp_path / "data"
    data.mkdir()
    restored = restore.restore(file=made.file, data=data, photos=photos, now=now)
    after = all_rows()
    assert generation.current_generation() == 2
    after["batches.NurserySetting"] = before["batches.NurserySetting"]
    (noted,) = after["batches.ChangeNote"]  # the restore itself
    after["batches.ChangeNote"] = []
    assert noted["number"] == 1
    assert after == before
    assert restored.set_aside is not None
    (old,) = restored.set_aside.glob("frondbook-*.zip")
    assert backup_file.read_through(old).rows["traycheck"] == 7
    # New rows are numbered after the restored ones.
    PersonFactory(name="Somebody new")
    TrayCheckFactory()
    assert Person.objects.count() == len(before["batches.Person"]) + 1
    assert Tray.objects.count() == len(before["batches.Tray"]) + 1
    assert TrayCheck.objects.count() == 4


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_a_restore_that_fails_half_way_leaves_the_rows_as_they_were(
    tmp_path: Path, photos: Path, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    TrayCheckFactory.create_batch(3)
    made = make_backup(folder=tmp_path / "stick", photos=photos, now=now)
    TrayCheckFactory()
    before = all_rows()

    def fail(connection: BaseDatabaseWrapper, _: object) -> None:
        if connection.alias == DEFAULT_DB_ALIAS:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(other_database, "_continue_numbers", fail)
    data = tmp_path / "data"
    data.mkdir()
    with pytest.raises(restore.RestoreFailed, match="what they were"):
        restore.restore(file=made.file, data=data, photos=photos, now=now)
    assert all_rows() == before
