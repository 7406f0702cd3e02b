"""How long does the server take to start, and what does it hold when idle?

The floor is a bare Django project, as `startproject` makes it, behind the same server. Both are
started by turns; a start lasts until `/health/` answers. Medians of five.
"""

from __future__ import annotations

import contextlib
import http.client
import os
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.bench.figure import Figure
from tests.faults.desk import Desk
from tests.running_nursery import ROOT, RunningNursery

REPEATS, WITHIN_S = 5, 60.0
PRINTED = 24
BARE_URLS = """
from django.http import JsonResponse
from django.urls import path
urlpatterns = [path("health/", lambda request: JsonResponse({"ok": True}))]
"""
BARE_SERVER = """
import asyncio, os, sys
os.environ["DJANGO_SETTINGS_MODULE"] = "bare.settings"
from django.core.wsgi import get_wsgi_application
from hypercorn.asyncio import serve
from hypercorn.config import Config
config = Config()
config.bind = ["127.0.0.1:" + sys.argv[1]]
asyncio.run(serve(get_wsgi_application(), config, mode="wsgi"))
"""
SIGNED_IN = (
    "from django.utils import timezone; from batches.models import Person; "
    "Person.objects.create_user('Greta Lunn', role='manager'); "
    "Person.objects.update(last_login=timezone.now())"
)
#: what is large and not needed before somebody asks for it
LATER = ("numpy", "plotly", "weasyprint", "PIL", "segno", "fontTools")


def figures() -> list[Figure]:
    """Start both by turns; about half a minute. Memory is told on Linux alone."""
    with tempfile.TemporaryDirectory() as folder:
        nursery = RunningNursery(Path(folder) / "ours")
        nursery.command("migrate", "--verbosity", "0")
        # Everyday's start: the static files are collected, and somebody has signed in before.
        nursery.start()
        nursery.stop()
        nursery.command("shell", "--no-imports", "--command", SIGNED_IN)
        bare = _bare_project(Path(folder) / "bare")
        ours_ms, bare_ms = _by_turns(
            lambda port: _started(
                [sys.executable, "manage.py", "serve", "--port", str(port)],
                cwd=ROOT, environment=nursery.environment, port=port,
            ),
            lambda port: _started(
                [sys.executable, "serve.py", str(port)],
                cwd=bare, environment=dict(os.environ), port=port,
            ),
        )  # fmt: skip
        ratio = ours_ms / bare_ms
        return [
            Figure("the server's start, until it answers", ours_ms, "ms", bare_ms, ratio, "≤ 2 ×",
                   ratio <= 2),
            _first_page(nursery),
            _imported_at_start(nursery),
            *_memory(nursery, bare),
        ]  # fmt: skip


def _bare_project(folder: Path) -> Path:
    folder.mkdir()
    subprocess.run(
        [sys.executable, "-m", "django", "startproject", "bare", str(folder)],
        check=True, timeout=60, env=_without_django(),
    )  # fmt: skip
    (folder / "bare" / "urls.py").write_text(BARE_URLS, encoding="utf-8")
    (folder / "serve.py").write_text(BARE_SERVER, encoding="utf-8")
    return folder


def _without_django() -> dict[str, str]:
    return {name: text for name, text in os.environ.items() if not name.startswith("DJANGO_")}


def free_port() -> int:
    """Give a port that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def _by_turns(*starts: Callable[[int], contextlib.AbstractContextManager[Served]]) -> list[float]:
    """Return the median milliseconds of each start, made one after the other."""
    times: list[list[float]] = [[] for _ in starts]
    for turn in range(REPEATS + 1):
        for mine, start in zip(times, starts, strict=True):
            with start(free_port()) as served:
                if turn:  # the first compiles modules and fills the disk's cache
                    mine.append(served.after_ms)
    return [statistics.median(some) for some in times]


class Served:
    """A server that answers: its process, and how long that took in milliseconds."""

    def __init__(self, process: subprocess.Popen[bytes], after_ms: float) -> None:
        self.process = process
        self.after_ms = after_ms


@contextlib.contextmanager
def _started(
    words: list[str], *, cwd: Path, environment: dict[str, str], port: int
) -> Iterator[Served]:
    begun = time.monotonic()
    process = subprocess.Popen(
        words, cwd=cwd, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        while not _is_well(port):
            if process.poll() is not None or time.monotonic() - begun > WITHIN_S:
                raise AssertionError(f"{words} did not answer")
            time.sleep(0.005)
        yield Served(process, 1000 * (time.monotonic() - begun))
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(20)


def _first_page(nursery: RunningNursery) -> Figure:
    """Tell when somebody sees the first page who asks for it as soon as the server answers."""
    times = []
    for _ in range(REPEATS):
        port = free_port()
        words = [sys.executable, "manage.py", "serve", "--port", str(port)]
        with _started(words, cwd=ROOT, environment=nursery.environment, port=port) as served:
            begun = time.monotonic()
            if not _is_well(port, "/sign-in/"):
                raise AssertionError("no first page")
            times.append(served.after_ms + 1000 * (time.monotonic() - begun))
    return Figure("the server's start, until its first page", statistics.median(times), "ms", None,
                  None, "told", True)  # fmt: skip


def _is_well(port: int, address: str = "/health/") -> bool:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
    try:
        connection.request("GET", address)
        return connection.getresponse().status == 200
    except ConnectionError:
        return False
    finally:
        connection.close()


def _imported_at_start(nursery: RunningNursery) -> Figure:
    """Count the large packages that are imported before a page is asked for."""
    ask = (
        "import sys, batches.management.commands.serve, nursery.urls; "
        f"print([name for name in {LATER} if name in sys.modules])"
    )
    said = nursery.command("shell", "--no-imports", "--command", ask).stdout
    early = said.splitlines()[-1].strip("[]")
    count = len(early.split(",")) if early else 0
    return Figure(f"large packages imported at the start ({early or 'none'})", count, "of 6", None,
                  None, "= 0", count == 0)  # fmt: skip


def _memory(nursery: RunningNursery, bare: Path) -> list[Figure]:
    if not Path("/proc/self/status").exists():
        return []
    port = free_port()
    with _started([sys.executable, "serve.py", str(port)], cwd=bare,
                  environment=dict(os.environ), port=port) as served:  # fmt: skip
        floor = _resident_mb(served.process.pid)
    port = free_port()
    with _started([sys.executable, "manage.py", "serve", "--port", str(port)], cwd=ROOT,
                  environment=nursery.environment, port=port) as served:  # fmt: skip
        time.sleep(3)  # its rounds look after what is due
        idle = _resident_mb(served.process.pid)
    printing = _memory_when_printed(nursery)
    return [
        Figure("memory of the idle server", idle, "MB", floor, idle / floor, "told", True),
        Figure(f"memory once {PRINTED} labels were printed, with the process that draws them",
               printing, "MB", floor, printing / floor, "told", True),
    ]  # fmt: skip


def _memory_when_printed(nursery: RunningNursery) -> float:
    """Print a sheet of labels as a person does, and add up the server and its children."""
    make = f"from tests.factories import TrayFactory as make; make.create_batch({PRINTED})"
    said = nursery.command(
        "shell", "--no-imports", "--command", f"{make}; from batches.models import Tray; "
        "print(*Tray.objects.values_list('code', flat=True))",
    )  # fmt: skip
    nursery.start()
    try:
        assert nursery.process is not None
        desk = Desk(nursery)
        desk.sign_in("hand")
        desk.get("/labels/")
        status, sheet = desk.post_and_read(
            "/labels/", kind="tray", codes=said.stdout.splitlines()[-1], stock="a4-24",
            start_at="1", copies="1",
        )  # fmt: skip
        if status != 200 or not sheet.startswith(b"%PDF"):
            raise AssertionError(f"no labels were printed: {status}")
        server = nursery.process.pid
        threads = Path(f"/proc/{server}/task").glob("*/children")
        children = " ".join(one.read_text(encoding="ascii") for one in threads).split()
        if not children:
            raise AssertionError("the process that draws labels is not there")
        return sum(map(_resident_mb, [server, *map(int, children)]))
    finally:
        nursery.stop()


def _resident_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1000
    raise AssertionError("no VmRSS")
