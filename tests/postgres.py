"""How does the whole suite run on PostgreSQL, on a machine where no server runs?

    python -m tests.postgres [options for pytest]

starts a server of its own in a temporary folder, reachable by a socket in that folder alone and
run by an ordinary account even when root starts it (PostgreSQL refuses root), runs pytest on it,
and stops it again. Where no PostgreSQL is installed it says so in one line and ends well.
"""

from __future__ import annotations

import contextlib
import os
import pwd
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
# What walks pages in a browser says nothing more here. (conftest.py leaves SQLite's own tests out.)
LEFT_OUT = "not browser"
PLACES = ("usr/lib/postgresql/*/bin", "usr/pgsql-*/bin", "opt/homebrew/opt/postgresql@*/bin")


def programs() -> Path | None:
    """Give the folder of the newest PostgreSQL here that can make a server; None without one."""
    found = [folder for place in PLACES for folder in Path("/").glob(place)]
    on_path = shutil.which("initdb")
    if on_path:
        found.append(Path(on_path).resolve().parent)
    found = [folder for folder in found if (folder / "initdb").exists()]
    return max(found, key=_version, default=None)


def _version(folder: Path) -> tuple[int, ...]:
    said = subprocess.run(
        [folder / "initdb", "--version"], capture_output=True, text=True, check=True
    )
    number = re.search(r"\) (\d+(?:\.\d+)*)", said.stdout)
    return tuple(int(part) for part in number.group(1).split(".")) if number else ()


class Server:
    """A PostgreSQL server of our own, with its data in `folder`."""

    def __init__(self, bin_folder: Path, folder: Path) -> None:
        self.bin = bin_folder
        self.folder = folder
        self.account: dict[str, object] = {}
        if os.geteuid() == 0:
            nobody = pwd.getpwnam("nobody")
            os.chown(folder, nobody.pw_uid, nobody.pw_gid)
            self.account = {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": []}

    def _run(self, program: str, *words: str) -> None:
        log = self.folder / "commands.log"
        with log.open("ab") as output:
            done = subprocess.run(
                [str(self.bin / program), *words],
                stdout=output,
                stderr=subprocess.STDOUT,
                cwd=self.folder,
                env={"PATH": os.defpath, "LC_ALL": "C.UTF-8"},
                check=False,
                timeout=120,
                **self.account,  # type: ignore[call-overload]
            )
        if done.returncode != 0:
            server_log = self.folder / "server.log"
            said = log.read_text() + (server_log.read_text() if server_log.exists() else "")
            raise SystemExit(f"PostgreSQL's {program} failed ({done.returncode}):\n{said}")

    def start(self) -> str:
        """Make the server, start it, and give the address of its database."""
        data = str(self.folder / "data")
        self._run(
            "initdb", "-D", data, "-U", "frond", "-A", "trust", "--no-sync", "-E", "UTF8",
            "--locale=C.UTF-8",
        )  # fmt: skip
        options = (
            f"-c listen_addresses='' -k {self.folder} "
            "-c fsync=off -c full_page_writes=off -c synchronous_commit=off"
        )
        log = str(self.folder / "server.log")
        self._run("pg_ctl", "-D", data, "-l", log, "-w", "-o", options, "start")
        return f"postgresql://frond@/postgres?host={self.folder}"

    def stop(self) -> None:
        """Stop the server."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-w", "stop")


@contextlib.contextmanager
def running_server(bin_folder: Path) -> Iterator[str]:
    """Start a server and give the address of its database; it is stopped and removed after."""
    # A socket's path may have about a hundred letters: a long temporary folder would not do.
    folder = Path(tempfile.mkdtemp(prefix="frond-pg-", dir="/tmp"))
    server = Server(bin_folder, folder)
    started = False
    try:
        url = server.start()
        started = True
        yield url
    finally:
        if started:
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)


def say(words: str) -> None:
    """Print a line before pytest prints its own."""
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def main(words: list[str]) -> int:
    """Run pytest on a server of our own, and give its exit status."""
    bin_folder = programs()
    if bin_folder is None:
        say("Skipped: the whole suite on PostgreSQL, because no PostgreSQL is installed here.")
        return 1 if os.environ.get("NURSERY_SKIP_NOTHING") else 0
    with running_server(bin_folder) as url:
        say(f"The suite on PostgreSQL ({bin_folder}):")
        return subprocess.run(
            [sys.executable, "-m", "pytest", "-m", LEFT_OUT, *words],
            cwd=ROOT,
            # The hundred walks of three tablets are made on SQLite.
            env={"NURSERY_WALKS": "40"} | os.environ | {"NURSERY_DATABASE_URL": url},
            check=False,
        ).returncode


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
