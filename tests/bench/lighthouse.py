"""What does Lighthouse say of the pages, at its mobile setting?

Lighthouse is no part of this program: the environment variable LIGHTHOUSE names its executable, or
it is found on the path; where there is none, one line says that nothing was measured. It looks at
the pages in a Chromium in which the manager is signed in. Source of the bar: Lighthouse calls 90
to 100 good; 95 is this program's own.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.bench.browsing import CHROMIUM, large_nursery, pages_of, sign_in
from tests.bench.figure import Figure
from tests.bench.start import free_port

LEAST, TRIES = 95, 3


def figures() -> list[Figure]:
    """Look at the four pages, a quarter of a minute each; none without Lighthouse or Chromium."""
    program = os.environ.get("LIGHTHOUSE") or shutil.which("lighthouse")
    if not program or not Path(CHROMIUM).exists():
        sys.stdout.write("Not measured: Lighthouse is not installed here (LIGHTHOUSE names it).\n")
        return []
    found: list[Figure] = []
    with large_nursery() as nursery, tempfile.TemporaryDirectory() as folder:
        port = free_port()
        arguments = ["--no-sandbox", "--disable-background-networking"]
        with sync_playwright() as driver:
            # One that keeps its cookies: Lighthouse opens a page of its own beside.
            context = driver.chromium.launch_persistent_context(
                folder,
                executable_path=CHROMIUM,
                args=[*arguments, f"--remote-debugging-port={port}"],
            )
            sign_in(context, nursery)
            for name, address in pages_of(nursery).items():
                for category, score in _scores(program, port, nursery.url + address).items():
                    found.append(
                        Figure(f"{name} page, Lighthouse's {category}, mobile", score, "of 100",
                               None, None, f"≥ {LEAST}", score >= LEAST)
                    )  # fmt: skip
            context.close()
    return found


def _scores(program: str, port: int, address: str) -> dict[str, float]:
    """Give the best of up to three looks: other work on the machine makes a page slower only."""
    best: dict[str, float] = {}
    for _ in range(TRIES):
        for name, score in _looked(program, port, address).items():
            best[name] = max(score, best.get(name, 0))
        if min(best.values(), default=0) >= LEAST:
            break
    return best


def _looked(program: str, port: int, address: str) -> dict[str, float]:
    done = subprocess.run(
        [
            program, address, "--quiet", f"--port={port}", "--disable-storage-reset",
            "--only-categories=performance,accessibility", "--output=json",
        ],
        capture_output=True, text=True, check=False, timeout=180,
    )  # fmt: skip
    report = json.loads(done.stdout) if done.returncode == 0 else {"runtimeError": done.stderr}
    if report.get("runtimeError"):
        sys.stderr.write(f"Lighthouse could not look at {address}: {report['runtimeError']}\n")
        return {}
    if report["finalDisplayedUrl"] != address:
        raise AssertionError(f"{address} led to {report['finalDisplayedUrl']}")
    categories = report["categories"]
    return {name: round(100 * categories[name]["score"]) for name in sorted(categories)}
