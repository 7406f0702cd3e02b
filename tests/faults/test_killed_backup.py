"""What is left when a backup or a restore is killed at some moment?

Killing a process is no power cut: what the system holds already is still written (F1 and F4 of
the plan in DEVELOPERS.md). It shows the order of the steps, not the disk's honesty.
"""

from __future__ import annotations

import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

import pytest

from batches.services import backup_file
from tests.faults.conftest import Turns
from tests.running_nursery import ROOT, PreparedNursery, RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]


def looks_in(folder: Path) -> int:
    """Give how many looks the records hold, after asking SQLite whether they are whole."""
    with closing(sqlite3.connect(folder / "nursery.sqlite3")) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        (count,) = database.execute("SELECT count(*) FROM batches_traycheck").fetchone()
    return int(count)


def kill_after(nursery: RunningNursery, seconds: float, *words: str) -> bool:
    """Start a command and kill it after a while; say whether it had ended by itself by then."""
    process = subprocess.Popen(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=nursery.environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        process.wait(seconds)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        process.wait(20)
        return False
    return True


def time_of(nursery: RunningNursery, *words: str) -> float:
    began = time.monotonic()
    nursery.command(*words)
    return time.monotonic() - began


FILL = """
from tests.factories import TrayCheckFactory
from batches.models import CheckPhoto, TrayCheck
one = TrayCheckFactory.create()
TrayCheckFactory.create_batch({count} - 1, tray=one.tray)
"""


@pytest.fixture(scope="module")
def original(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> RunningNursery:
    """A nursery with a hundred looks and some photos that take a while to copy."""
    nursery = RunningNursery(prepared_nursery.copy_to(tmp_path_factory.mktemp("original") / "data"))
    nursery.command("shell", "--no-imports", "--command", FILL.format(count=100))
    photos = nursery.data / "photos"
    photos.mkdir(exist_ok=True)
    for number in range(40):
        (photos / f"{number}.jpg").write_bytes(random.Random(number).randbytes(500_000))
    return nursery


def test_a_killed_backup_leaves_a_whole_file_or_none_and_the_older_ones_alone(
    original: RunningNursery, tmp_path: Path, turns: Turns
) -> None:
    stick = tmp_path / "stick"
    took = time_of(original, "backup", str(stick))
    (older,) = stick.glob("*.zip")
    kept = older.read_bytes()
    chance = random.Random(4)
    for _ in turns(6, 20):
        kill_after(original, chance.uniform(0.3, 1.0) * took, "backup", str(stick))
        for file in stick.glob("*.zip"):
            assert backup_file.read_through(file).rows["traycheck"] == 100
        assert older.read_bytes() == kept
        assert looks_in(original.data) == 100


def test_a_killed_restore_leaves_the_old_records_or_the_new_ones(
    original: RunningNursery, prepared_nursery: PreparedNursery, tmp_path: Path, turns: Turns
) -> None:
    backup = Path(original.answer("backup", str(tmp_path / "stick"))["file"])
    old = tmp_path / "old"
    shutil.copytree(prepared_nursery.folder, old)
    before = RunningNursery(old)
    before.command("shell", "--no-imports", "--command", FILL.format(count=7))
    timed = RunningNursery(PreparedNursery(old).copy_to(tmp_path / "timed"))
    took = time_of(timed, "restore", str(backup))
    chance = random.Random(5)
    ended = []
    for number in turns(6, 20):
        nursery = RunningNursery(PreparedNursery(old).copy_to(tmp_path / f"killed-{number}"))
        kill_after(nursery, chance.uniform(0.5, 1.1) * took, "restore", str(backup))
        ended.append(looks_in(nursery.data))
        # Whatever was left behind, the next restore goes through, and so does the next start.
        nursery.command("restore", str(backup))
        assert looks_in(nursery.data) == 100
        nursery.start()
        nursery.stop()
        shutil.rmtree(nursery.data)
    assert set(ended) <= {7, 100}


# Ends the process without warning at the n-th step that changes names in the data folder.
STEPS = """
import os, pathlib
left = {step}
def counted(original):
    def step(*words, **more):
        global left
        if left == 0:
            os._exit(9)
        left -= 1
        return original(*words, **more)
    return step
os.link = counted(os.link)
pathlib.Path.replace = counted(pathlib.Path.replace)
pathlib.Path.chmod = counted(pathlib.Path.chmod)
os.fsync = counted(os.fsync)
from django.core.management import call_command
call_command("restore", "{file}")
"""


def test_a_restore_that_ends_before_any_one_of_its_steps_leaves_whole_records(
    prepared_nursery: PreparedNursery, tmp_path: Path
) -> None:
    old = RunningNursery(prepared_nursery.copy_to(tmp_path / "old"))
    old.command("shell", "--no-imports", "--command", FILL.format(count=7))
    file = old.answer("backup", str(tmp_path / "stick"))["file"]
    old.command("shell", "--no-imports", "--command", MORE_LOOKS)
    ended = []
    for step in range(40):
        nursery = RunningNursery(PreparedNursery(old.data).copy_to(tmp_path / f"step-{step}"))
        script = STEPS.format(step=step, file=file)
        done = nursery.command("shell", "--no-imports", "--command", script, check=False)
        ended.append(looks_in(nursery.data))
        if done.returncode == 0:
            break
        assert done.returncode == 9, done.stderr
    # The old records up to one step, the new ones from then on.
    assert ended == [12] * ended.count(12) + [7] * ended.count(7)
    assert ended.count(12) >= 4
    assert ended[-1] == 7


MORE_LOOKS = """
from tests.factories import TrayCheckFactory
from batches.models import Tray
TrayCheckFactory.create_batch(5, tray=Tray.objects.get())
"""
