"""Is a full disk told in plain words, and does everything arrive once there is room again?"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.bench_tablets import check_what_is_stored, make_tablets
from tests.faults.conftest import Turns
from tests.faults.desk import Desk
from tests.running_nursery import PreparedNursery, RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

MEGABYTES = 48


@pytest.fixture
def small(prepared_nursery: PreparedNursery, tmp_path: Path) -> Iterator[RunningNursery]:
    """A nursery on a disk of its own that is nearly full, in memory."""
    disk = tmp_path / "disk"
    disk.mkdir()
    size = f"size={MEGABYTES}m"
    mount = ["mount", "-t", "tmpfs", "-o", size, "tmpfs", str(disk)]
    if os.name == "nt" or os.geteuid() != 0 or subprocess.run(mount, check=False).returncode:
        pytest.skip("only root may mount a small disk")
    nursery = RunningNursery(prepared_nursery.copy_to(disk / "data"))
    try:
        yield nursery
    finally:
        nursery.kill()
        subprocess.run(["umount", str(disk)], check=True)


def fill(disk: Path, *, leave: int) -> Path:
    """Fill a disk but for some bytes."""
    filler = disk / "filler"
    free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_frsize
    with filler.open("wb") as file:
        os.posix_fallocate(file.fileno(), 0, max(1, free - leave))
    return filler


def test_a_full_disk_is_503_in_words_nothing_is_half_stored_and_all_arrives_afterwards(
    small: RunningNursery, turns: Turns
) -> None:
    (tablet,), trays = make_tablets(small, tablets=1, trays=3)
    desk = Desk(small)
    small.start()
    desk.sign_in("manager")
    refused = 0
    for turn in turns(2, 10):
        filler = fill(small.data.parent, leave=60_000 + 20_000 * turn)
        for _ in range(400):
            while len(tablet.waiting) < 20:
                tablet.look(trays[tablet.made % 3])
            status, answer = tablet.send(small.url)
            if status != 200:
                assert status == 503
                assert "disk is full" in answer["error"]
                assert "Nothing of this was stored" in answer["error"]
                refused += 1
                break
        else:
            raise AssertionError("the disk never was full")
        assert len(tablet.waiting) == 20
        status, page = desk.get("/sign-in/")
        assert status == 200
        status, page = desk.post_and_read("/people/", name="Ines Brake", role="hand")
        assert status in {302, 503}
        assert status == 302 or b"The disk is full" in page
        filler.unlink()
        assert tablet.send(small.url)[0] == 200
        assert tablet.waiting == []
    small.stop()
    assert refused == turn + 1
    assert check_what_is_stored(small.data, [tablet]) == tablet.made
    assert set(tablet.answers) <= {"created", "merged"}
