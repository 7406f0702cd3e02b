"""Does the look over the machine notice what is amiss, and go on when something cannot be read?"""

from __future__ import annotations

import shutil
import sqlite3
import subprocess
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from django.db import OperationalError

from batches.models import CheckPhoto
from batches.services import checkup, standing
from batches.services.checkup import Finding
from batches.services.network_https import prepare_https
from tests.factories import TrayCheckFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def look(
    tmp_path: Path, now: datetime, monkeypatch: pytest.MonkeyPatch
) -> Callable[[str], Finding]:
    """Looks everything over and gives the finding whose name begins with the words.

    Pango is not tried each time: that takes a second, and tests/commands/test_doctor.py does it.
    """
    done: subprocess.CompletedProcess[bytes] = subprocess.CompletedProcess([], 0)
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: done)

    def found(words: str) -> Finding:
        all_of_them = checkup.findings(data=tmp_path, photos=tmp_path, now=now)
        (one,) = [finding for finding in all_of_them if finding.check.startswith(words)]
        return one

    return found


def test_a_well_machine_has_nothing_amiss(look: Callable[[str], Finding], now: datetime) -> None:
    one = TrayCheckFactory.create()
    standing.refold(trays=[one.tray], recorded_at=now)
    for words in ("Python", "data folder", "room", "records in", "records whole", "stored due"):
        assert look(words).ok, words
    for words in ("photos", "clock", "typeface", "Pango"):
        assert look(words) == Finding(check=look(words).check, ok=True)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    # The fault was there from 3.7.0 to 3.51.2 (release notes of SQLite 3.51.3, 13 March 2026).
    ("version", "noted"),
    [((3, 40, 1), True), ((3, 51, 2), True), ((3, 51, 3), False)],
)
def test_an_old_sqlite_is_a_caution_and_no_alarm(
    look: Callable[[str], Finding],
    monkeypatch: pytest.MonkeyPatch,
    version: tuple[int, int, int],
    noted: bool,
) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", version)
    finding = look("SQLite")
    assert finding.ok
    assert bool(finding.advice) is noted


class Disk(NamedTuple):
    total: int
    used: int
    free: int


def test_little_room_is_amiss(
    look: Callable[[str], Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: Disk(10**12, 10**12, 10**9))
    assert not look("room on the disk: 0.9 GB").ok


def test_a_folder_that_cannot_be_written_to_is_amiss(now: datetime, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    found = checkup.findings(data=tmp_path / "file", photos=tmp_path, now=now)
    (folder,) = [finding for finding in found if finding.check.startswith("data folder")]
    assert not folder.ok
    assert "NURSERY_DATA" in folder.advice


def test_pending_changes_are_amiss(
    look: Callable[[str], Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checkup, "pending_migrations", lambda: ["batches.0099_more"])
    assert "start the server" in look("records in the form").advice


def test_a_lost_photo_is_amiss(
    look: Callable[[str], Finding], tmp_path: Path, now: datetime
) -> None:
    row = CheckPhoto(check_row=TrayCheckFactory.create(), width=1, height=1, recorded_at=now)
    row.file = "lost.jpg"
    row.save()
    assert "lost.jpg" in look("photos: 1").advice
    (tmp_path / "lost.jpg").write_bytes(b"found")
    assert look("photos: 1").ok


def test_a_clock_behind_the_newest_look_is_amiss(
    look: Callable[[str], Finding], now: datetime
) -> None:
    TrayCheckFactory(recorded_at=now + timedelta(minutes=4))
    assert look("clock").ok
    TrayCheckFactory(recorded_at=now + timedelta(minutes=6))
    assert "Set this machine's clock" in look("clock").advice


@pytest.mark.parametrize(
    ("days", "ok", "advice"),
    [
        (300, True, ""),
        (335, True, ""),  # 61 days and a little are left
        (336, True, "60 days are left"),
        (395, True, "1 days are left"),
        (397, False, "browsers refuse it"),
        (3700, False, "each tablet opens /setup/ again"),
    ],
)
def test_an_old_certificate_is_a_caution_and_one_that_ended_is_amiss(
    tmp_path: Path,
    now: datetime,
    look: Callable[[str], Finding],
    days: int,
    ok: bool,
    advice: str,
) -> None:
    assert look("certificate").check == "certificate for https: none yet"
    made = now - timedelta(days=days)
    prepare_https(data=tmp_path, called=("fernery.home.arpa",), limited=True, now=made)
    finding = look("certificate")
    assert "for fernery.home.arpa" in finding.check
    assert finding.ok is ok
    assert advice in finding.advice
    assert bool(finding.advice) is bool(advice)


def test_an_authority_that_cannot_be_read_is_amiss(
    tmp_path: Path, look: Callable[[str], Finding]
) -> None:
    (tmp_path / "certificates").mkdir()
    (tmp_path / "certificates" / "authority.pem").write_bytes(b"cut short")
    assert "Bring it back from a copy" in look("certificate").advice
    assert not look("certificate").ok


def test_a_due_date_that_differs_is_amiss(
    look: Callable[[str], Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(standing, "differing", lambda: (2, ("26W14-073-05-P",)))
    assert "26W14-073-05-P" in look("stored due dates of 2 trays").advice


def test_a_missing_pango_says_what_to_install_and_what_is_there_instead(
    look: Callable[[str], Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: Any, **__: Any) -> subprocess.CompletedProcess[bytes]:
        return subprocess.CompletedProcess([], 1)

    monkeypatch.setattr(subprocess, "run", fail)
    advice = look("Pango").advice
    assert "libpango-1.0-0" in advice
    assert "a page to print instead" in advice


def test_records_that_cannot_be_read_do_not_hide_the_rest(
    look: Callable[[str], Finding], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail() -> bool:
        raise OperationalError("file is not a database")

    monkeypatch.setattr(checkup, "is_new_database", fail)
    assert "restore the newest backup" in look("form of the records").advice
    assert look("Pango").ok
