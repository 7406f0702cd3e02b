"""How long does a tablet wait for its answer while ten send at once?

Ten tablets, each at thirty trays of its own, a look every two seconds: a quick round by ten
people. One server process on loopback, with the tablets' threads on the same computer.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.bench.figure import Figure
from tests.faults.bench_tablets import check_what_is_stored, make_tablets
from tests.faults.many_tablets import TABLETS, TRAYS_EACH, go_round
from tests.running_nursery import RunningNursery

SECONDS, PAUSE = 60, 2.0
BAR_MS = 500


def figures() -> list[Figure]:
    """Measure on a nursery of its own; takes about 70 seconds."""
    with tempfile.TemporaryDirectory() as folder:
        nursery = RunningNursery(Path(folder) / "data")
        nursery.command("migrate", "--verbosity", "0")
        tablets, trays = make_tablets(nursery, tablets=TABLETS, trays=TABLETS * TRAYS_EACH)
        nursery.start()
        try:
            done = go_round(nursery, tablets, trays, seconds=SECONDS, pause=PAUSE)
        finally:
            nursery.stop()
        stored = check_what_is_stored(nursery.data, tablets)
    slow = 1000 * done.waited_at_most(0.95)
    made = sum(tablet.made for tablet in tablets)
    name = f"{TABLETS} tablets at {TRAYS_EACH} trays each for {SECONDS} s"
    return [
        Figure(f"{name}, 95 in 100 answers within", slow, "ms", None, None,
               f"< {BAR_MS} ms", slow < BAR_MS),
        Figure(f"{name}, looks lost", float(made - stored), "looks", None, None,
               "0", made == stored and not done.refusals),
    ]  # fmt: skip
