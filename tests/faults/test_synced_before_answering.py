"""Is the disk asked to keep what a tablet sent before the tablet is told that it is stored?

strace shows every call to the system in order. A program that stored with SQLite's `NORMAL` would
answer first and have the disk keep it later: a power cut in between would lose what was promised.
"""

from __future__ import annotations

import re
import shutil
import time
from pathlib import Path

import pytest

from tests.faults.bench_tablets import check_what_is_stored, make_tablets
from tests.running_nursery import RunningNursery

pytestmark = [pytest.mark.sqlite_only, pytest.mark.faults]

POSTS = 20
BEGUN = re.compile(r"^(\d+) +(?:fdatasync|fsync)\(\d+<[^>]*/nursery\.sqlite3-wal>")
RESUMED = re.compile(r"^(\d+) +<\.\.\. (?:fdatasync|fsync) resumed>.*= 0$")


def turns(trace: str) -> str:
    """Give a trace as letters in order: S for a log that was synced, A for an answer of 200."""
    waiting: set[str] = set()
    found = []
    for line in trace.splitlines():
        begun, resumed = BEGUN.match(line), RESUMED.match(line)
        if begun and line.endswith("= 0"):
            found.append("S")
        elif begun:
            waiting.add(begun.group(1))
        elif resumed and resumed.group(1) in waiting:
            waiting.discard(resumed.group(1))
            found.append("S")
        elif '"HTTP/1.1 200' in line and "resumed" not in line:
            found.append("A")
    return "".join(found)


def test_a_trace_is_read_in_order() -> None:
    trace = (
        '7 fdatasync(9</d/nursery.sqlite3-wal>) = 0\n7 sendto(12<socket:[5]>, "HTTP/1.1 200 \\r"\n'
        "8 fdatasync(9</d/nursery.sqlite3-wal> <unfinished ...>\n8 <... fdatasync resumed>) = 0\n"
        "8 fdatasync(9</d/elsewhere>) = 0\n8 fdatasync(9</d/nursery.sqlite3-wal>) = -1 EIO (no)\n"
        '8 sendto(12<socket:[5]>, "HTTP/1.1 200 \\r"\n8 sendto(12<socket:[5]>, "HTTP/1.1 401"\n'
    )
    assert turns(trace) == "SASA"


def test_the_disk_is_asked_before_every_answer(data_folder: RunningNursery, tmp_path: Path) -> None:
    strace = shutil.which("strace")
    if strace is None:
        pytest.skip("no strace")
    (tablet,), trays = make_tablets(data_folder, tablets=1, trays=1)
    trace = tmp_path / "trace"
    calls = "trace=fdatasync,fsync,sendto,sendmsg,write,writev"
    data_folder.start(
        under=(strace, "-D", "-f", "-y", "-s", "20", "-e", calls, "-e", "signal=none", "-o",
               str(trace))
    )  # fmt: skip
    try:
        for _ in range(POSTS):
            tablet.look(trays[0])
            status, _ = tablet.send(data_folder.url)
            assert status == 200
    finally:
        data_folder.stop()
    time.sleep(0.5)  # strace writes its last lines
    assert check_what_is_stored(data_folder.data, [tablet]) == POSTS
    seen = turns(trace.read_text(encoding="utf-8", errors="replace"))
    # One answer was the greeting, which stores nothing.
    assert seen.count("A") == POSTS + 1
    _, *before = seen.split("A", POSTS + 1)[: POSTS + 1]
    assert [part for part in before if "S" not in part] == []
