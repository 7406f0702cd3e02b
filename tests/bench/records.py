"""How dear is an import of 100,000 looks beside the bare work that it cannot do without?

The floor and the nursery are those of tests/services/records_io/test_speed.py: the same CSV parsed
with the same conversions and one bare executemany. Everything happens in a process of its own with
a new data folder; processor time, the best of two by turns.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

from batches.services.records_io import export_records, import_records
from tests.bench.figure import Figure
from tests.running_nursery import RunningNursery
from tests.services.records_io import test_speed as floor
from tests.services.records_io.folders import NOW, write

LOOKS = 100_000
BAR = 3.0
_REPEATS = 2


def figures() -> list[Figure]:
    """Measure in a child process; takes about a minute."""
    with tempfile.TemporaryDirectory() as folder:
        nursery = RunningNursery(Path(folder) / "data")
        nursery.command("migrate", "--verbosity", "0")
        code = "from tests.bench import records; records.measure()"
        said = nursery.command("shell", "--no-imports", "--command", code, timeout=900).stdout
    found = json.loads(said.splitlines()[-1])
    bare, ours, out = found["floor"], found["import"], found["export"]
    ratio = ours / bare
    return [
        Figure("import of 100,000 looks", ours, "s", bare, ratio, f"≤ {BAR:g} ×", ratio <= BAR),
        Figure("their export", out, "s", ours, out / ours, "≤ 1 ×", out <= ours),
    ]


def measure() -> None:
    """Print the best times as one line of JSON; for the child process alone."""
    text = floor.looks_text(LOOKS)
    times: dict[str, list[float]] = {"floor": [], "import": [], "export": []}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        looks = write(folder / "looks", {"checks": text})
        for turn in range(_REPEATS):
            trays = floor.nursery(folder / f"floor-{turn}")
            began = time.process_time()
            floor.bare(text, trays)
            times["floor"].append(time.process_time() - began)
            floor.nursery(folder / f"ours-{turn}")
            began = time.process_time()
            result = import_records(path=looks, now=NOW, by="")
            times["import"].append(time.process_time() - began)
            if result.errors or result.counts["checks.csv"] != LOOKS:
                raise AssertionError("the looks were not stored")
            began = time.process_time()
            export_records(path=folder / f"out-{turn}", now=NOW)
            times["export"].append(time.process_time() - began)
    best = {name: min(values) for name, values in times.items()}
    sys.stdout.write(json.dumps(best) + "\n")
