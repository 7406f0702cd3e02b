"""Is a deed there whole or not at all, whichever of its steps fails?

SQLite tests itself so (sqlite.org/testing.html, “I/O error testing”): the first step fails, then
the second, and so on, until the deed comes to its end.
"""

from __future__ import annotations

import errno
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.db import DatabaseError, OperationalError
from django.db.backends.utils import CursorWrapper

from batches.models import CheckPhoto, Person, TrayCheck
from batches.services import other_database, people, photos, standing
from batches.services.change_notes import chain_check
from batches.services.checks import record_check
from batches.services.copies import MARKER, copies_in, copy_to_stick
from batches.services.strikes import strike_out
from batches.services.syncing import Sender, take_items
from tests.factories import NOW, TrayCheckFactory, TrayFactory
from tests.services.test_photos import picture

pytestmark = [pytest.mark.django_db, pytest.mark.faults]

WRITES = ("INSERT", "UPDATE", "DELETE")


def everything() -> dict[str, list[dict[str, Any]]]:
    """Give every row of this program's own tables."""
    return {
        str(model._meta.label): list(model._base_manager.order_by("pk").values())
        for model in other_database.tables()
        if model._meta.app_label == "batches"
    }


class FailAt:
    """Lets the n-th step of a kind fail."""

    def __init__(self, step: int, error: Exception) -> None:
        self.left, self.error, self.failed = step, error, False

    def __call__(self) -> None:
        if self.left == 0:
            self.failed = True
            raise self.error
        self.left -= 1


@pytest.fixture
def failing_writes(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], FailAt]:
    """Lets the n-th statement that writes fail, as a full disk does."""
    execute, many = CursorWrapper.execute, CursorWrapper.executemany

    def at(step: int) -> FailAt:
        fail = FailAt(step, OperationalError("database or disk is full"))

        def counted(original: Any) -> Any:
            def run(self: CursorWrapper, sql: Any, params: Any = None) -> Any:
                if str(sql).lstrip().startswith(WRITES):
                    fail()
                return original(self, sql, params)

            return run

        monkeypatch.setattr(CursorWrapper, "execute", counted(execute))
        monkeypatch.setattr(CursorWrapper, "executemany", counted(many))
        return fail

    return at


def item(tray: str) -> dict[str, Any]:
    return {
        "id": str(uuid.uuid4()),
        "device_seq": 1,
        "kind": "check",
        "tray": tray,
        "by": "Wilf",
        "occurred_at": NOW.isoformat(),
        "losses": [{"quantity": 2, "cause": "mould"}],
    }


def deeds() -> dict[str, Callable[[], object]]:
    """Give deeds that write several rows each, on records of their own."""
    tray = TrayFactory(counted=80)
    standing.refold(trays=[tray], recorded_at=NOW)
    seen = record_check(tray=tray, seen_at=NOW, now=NOW, by="Wilf", losses=[(3, "rot")]).check
    tray.refresh_from_db()
    body = {"sent_at": NOW.isoformat(), "items": [item(tray.code), item(tray.code)]}
    return {
        "a look with losses and a count": lambda: record_check(
            tray=tray, seen_at=NOW, now=NOW, by="Wilf", losses=[(5, "mould")], count=60,
            signs=["mould"],
        ),
        "a strike-out": lambda: strike_out(
            row=TrayCheck.objects.get(pk=seen.pk), by="Wilf", now=NOW
        ),
        "what a tablet sends": lambda: take_items(body=body, sender=Sender(), now=NOW),
        "a person's role": lambda: people.person_in_role(name="Ines Brake", role="office"),
    }  # fmt: skip


@pytest.mark.parametrize("name", ["a look with losses and a count", "a strike-out",
                                  "what a tablet sends", "a person's role"])  # fmt: skip
def test_a_deed_that_fails_at_any_write_leaves_everything_as_it_was(
    name: str, failing_writes: Callable[[int], FailAt], monkeypatch: pytest.MonkeyPatch
) -> None:
    deed = deeds()[name]
    before = everything()
    steps = 0
    for step in range(200):
        fail = failing_writes(step)
        try:
            deed()
        except DatabaseError:
            assert fail.failed
        steps = step
        if not fail.failed:
            break
        monkeypatch.undo()
        assert everything() == before
    monkeypatch.undo()
    assert steps >= 1
    assert everything() != before
    assert chain_check().faults == ()
    assert Person.objects.count() == (1 if "role" in name else 0)


STEPS_ON_DISK = ("os.fsync", "pathlib.Path.replace", "pathlib.Path.open")


@pytest.fixture
def failing_files(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], FailAt]:
    """Lets the n-th step on the disk fail."""
    import os

    originals = (os.fsync, Path.replace, Path.open)

    def at(step: int) -> FailAt:
        fail = FailAt(step, OSError(errno.ENOSPC, "No space left on device"))

        def counted(original: Any) -> Any:
            def run(*words: Any, **more: Any) -> Any:
                fail()
                return original(*words, **more)

            return run

        for name, original in zip(STEPS_ON_DISK, originals, strict=True):
            monkeypatch.setattr(name, counted(original))
        return fail

    return at


def test_a_photo_that_fails_at_any_step_leaves_no_row_and_no_file(
    tmp_path: Path, failing_files: Callable[[int], FailAt], monkeypatch: pytest.MonkeyPatch
) -> None:
    look, data = TrayCheckFactory(), picture()
    for step in range(20):
        fail = failing_files(step)
        try:
            photos.keep_photo(check=look, data=data, folder=tmp_path, now=NOW)
        except OSError:
            assert fail.failed
        monkeypatch.undo()
        if not fail.failed:
            break
        assert list(tmp_path.iterdir()) == []
        assert not CheckPhoto.objects.exists()
    assert step >= 2
    assert CheckPhoto.objects.count() == len(list(tmp_path.glob("*.jpg"))) == 1


def test_a_copy_to_a_stick_that_fails_at_any_step_leaves_the_stick_as_it_was(
    tmp_path: Path, failing_files: Callable[[int], FailAt], monkeypatch: pytest.MonkeyPatch
) -> None:
    from batches.services.backup import BackupFailed

    here, stick = tmp_path / "here", tmp_path / "stick"
    here.mkdir()
    (stick / "frondbook").mkdir(parents=True)
    (stick / MARKER).touch()
    (here / "frondbook-20260610-180000.zip").write_bytes(b"a copy" * 5000)
    (copy,) = copies_in(here)
    for step in range(20):
        fail = failing_files(step)
        try:
            copy_to_stick(copy, stick=stick)
        except BackupFailed:
            assert fail.failed
        monkeypatch.undo()
        if not fail.failed:
            break
        left = list((stick / "frondbook").iterdir())
        # Before its last step the file is not there; after it, it is whole.
        assert left == [] or left[0].read_bytes() == copy.file.read_bytes()
        for file in left:
            file.unlink()
    assert step >= 4
