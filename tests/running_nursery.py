"""How do tests get at a real server, in a process of its own, with data of its own?

No test ever talks to anything but loopback, and each ends the processes it started, by their
number.
"""

from __future__ import annotations

import json
import os
import re
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
START_WITHIN_S = 60


class PreparedNursery:
    """A data folder made ready once and copied for each test that needs one."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def prepare(self) -> None:
        """Migrate it and collect its static files, as a first start does; nobody is in it yet."""
        first = RunningNursery(self.folder)
        first.command("migrate", "--verbosity", "0")
        collect = "from batches.services import static_files; static_files.collect_if_changed()"
        first.command("shell", "--no-imports", "--command", collect)

    def copy_to(self, folder: Path) -> Path:
        """Copy it, without anybody in it, for one test."""
        shutil.copytree(self.folder, folder)
        return folder


class RunningNursery:
    """One nursery: its data folder, its commands, and its server while that runs."""

    def __init__(self, data: Path, *, more_environment: dict[str, str] | None = None) -> None:
        self.data = data
        self.url = ""
        self.said = ""
        self.process: subprocess.Popen[bytes] | None = None
        kept = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("NURSERY_", "DJANGO_", "PYTEST_", "COV_"))
        }
        self.environment = {**kept, "NURSERY_DATA": str(data), **(more_environment or {})}

    # Commands

    def command(
        self, *words: str, check: bool = True, timeout: float = 120
    ) -> subprocess.CompletedProcess[str]:
        """Run a command on this data folder; with `check`, one that fails fails the test."""
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            timeout=timeout,
            check=False,
        )
        if check and done.returncode != 0:
            raise AssertionError(
                f"{words} ended with {done.returncode}:\n{done.stderr}{done.stdout}"
            )
        return done

    def answer(self, *words: str, timeout: float = 120) -> Any:
        """Run a command with `--json` and give what it printed."""
        return json.loads(self.command(*words, "--json", timeout=timeout).stdout)

    # The server

    def start(self, *options: str, under: Sequence[str] = ()) -> None:
        """Start `serve` on a free port, perhaps under a tracer, and wait for its address."""
        assert self.process is None
        self.process = subprocess.Popen(
            [*under, sys.executable, "manage.py", "serve", "--port", "0", *options],
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        )
        self.url = self._wait_for_address()

    def _wait_for_address(self) -> str:
        assert self.process is not None
        assert self.process.stdout is not None
        until = time.monotonic() + START_WITHIN_S
        pipe = self.process.stdout
        self.said = ""
        while time.monotonic() < until:
            ready, _, _ = select.select([pipe], [], [], 0.2)
            if ready:
                piece = os.read(pipe.fileno(), 65536).decode()
                self.said += piece
                found = re.search(r"is at (http\S+)/ ", self.said)
                if found:
                    return found.group(1)
                if not piece:
                    break
        self.kill()
        raise AssertionError(f"the server did not start:\n{self.said}")

    def read_on(self, *, seconds: float = 1.0, awaited: str = "") -> str:
        """Give all that the server said so far, waiting a little for more, or for a word of it."""
        if self.process is not None and self.process.stdout is not None:
            until = time.monotonic() + seconds
            while time.monotonic() < until and not (awaited and awaited in self.said):
                ready, _, _ = select.select([self.process.stdout], [], [], 0.1)
                if ready:
                    piece = os.read(self.process.stdout.fileno(), 65536).decode()
                    if not piece:
                        break
                    self.said += piece
        return self.said

    def stop(self, *, within: float = 20) -> int | None:
        """Ask the server to stop, as Ctrl-C does, and give its exit status; None where none ran."""
        return self._end(signal.SIGTERM, within=within)

    def kill(self) -> int | None:
        """End the server without warning, as a power cut does."""
        return self._end(signal.SIGKILL, within=20)

    def _end(self, number: signal.Signals, *, within: float) -> int | None:
        process, self.process = self.process, None
        if process is None:
            return None
        process.send_signal(number)
        try:
            process.wait(within)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(20)
            raise
        finally:
            if process.stdout is not None:
                self.said += process.stdout.read().decode()
                process.stdout.close()
        return process.returncode

    # People

    def link_for(self, role: str) -> str:
        """Give the address that signs a person of that role in, once."""
        names = {"hand": "Bryn Hale", "office": "Odile Marsh", "manager": "Greta Lunn"}
        link: str = self.answer("signin_link", names[role], "--role", role)["url"]
        return link
