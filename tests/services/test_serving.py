"""Does the server end when it was told to, even where Python dropped the signal's exception?"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# The signal comes while an object is tidied up: what is raised there, Python prints and drops.
DROPPED = """
import os, signal
from batches.services.server_config import server_config
from batches.services.serving import serve_until_told, stop_when_told

class Tidied:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGTERM)

came = stop_when_told()
one = Tidied()
del one
print("still here", [signal.Signals(number).name for number in came], flush=True)
config = server_config(bind=["127.0.0.1:0"], insecure_bind=[], max_body=1000)
sockets = config.create_sockets()
serve_until_told(lambda environ, start: [], config, sockets, came=came)
print("ended")
"""


def test_a_signal_that_was_dropped_while_it_started_ends_it_all_the_same() -> None:
    done = subprocess.run(
        [sys.executable, "-c", DROPPED], cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert done.stdout.splitlines() == ["still here ['SIGTERM']", "ended"]
    assert "ToldToStop" in done.stderr
