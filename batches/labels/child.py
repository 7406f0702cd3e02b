"""What does the print process do?

It is started by `worker`, knows no Django and no database, reads one job a line on its standard
input and answers in lines on its standard output: JSON objects whose first key says what they are.
It ends when its input ends, so it never outlives the program that started it.
"""

from __future__ import annotations

import gc
import io
import json
import logging
import os
import platform
import signal
import sys
import time
from collections.abc import Callable
from contextlib import redirect_stdout
from pathlib import Path
from typing import IO, Any

from batches.labels.errors import LabelRefused

Say = Callable[..., None]


def main() -> None:
    """Serve jobs until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = _own_output()

    def say(**answer: Any) -> None:
        answers.write(json.dumps(answer) + "\n")
        answers.flush()

    unavailable = why_not()
    if unavailable:
        say(unavailable=unavailable)
        return
    say(ready=True)
    for line in sys.stdin:
        _answer(json.loads(line), say)


def _own_output() -> IO[str]:
    """Keep the pipe to the parent apart, so that nothing a library prints gets into it."""
    mine = os.dup(1)
    os.dup2(2, 1)
    return os.fdopen(mine, "w", encoding="utf-8")


def why_not() -> str:
    """Return one line on what to install; empty when PDFs can be made."""
    try:
        # It prints half a page about a missing library; one line says it better.
        with redirect_stdout(io.StringIO()):
            import weasyprint  # noqa: F401 - to see whether Pango and its kin are there
    except ImportError:
        return "The Python package WeasyPrint is not installed: pip install weasyprint."
    except OSError as error:
        return _advice(str(error))
    logging.getLogger("weasyprint").setLevel(logging.ERROR)
    return ""


def _advice(error: str) -> str:
    missing = error.split("'")[1] if error.count("'") >= 2 else "Pango"
    how = {
        "Windows": "install GTK 3 (Pango) for Windows and start the program again",
        "Darwin": "brew install pango",
    }.get(platform.system(), "apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0")
    return f"A system library for making PDFs is missing ({missing}): {how}."


def _answer(job: dict[str, Any], say: Say) -> None:
    try:
        say(done=_JOBS[job["do"]](job, say))
    except LabelRefused as refusal:
        say(refused=refusal.message, field=refusal.field)
    except Exception as error:
        # Whatever goes wrong in one job must be told, and must not cost the next job its worker.
        logging.getLogger(__name__).exception("A print job failed")
        say(failed=f"{type(error).__name__}: {error}")


def _labels(job: dict[str, Any], say: Say) -> dict[str, Any]:
    from batches.labels.rows import from_plain
    from batches.labels.sheets import write_labels
    from batches.labels.stocks import Stock

    def portion_done(labels: int) -> None:
        say(labels=labels)
        # What a portion leaves (rows, forms, remembered widths) stays for the run: out of the
        # collector's sight, or each further label would cost more than the one before.
        gc.collect()
        gc.freeze()

    began = time.process_time()
    plain = json.loads(Path(job["job"]).read_text(encoding="utf-8"))
    try:
        with Path(job["out"]).open("wb") as target:
            printed = write_labels(
                [from_plain(row) for row in plain["rows"]],
                Stock(**plain["stock"]),
                target,
                copies=plain["copies"],
                start_at=plain["start_at"],
                progress=portion_done,
                first_only=plain["first_only"],
            )
    finally:
        gc.unfreeze()
    return {
        "labels": printed.labels,
        "sheets": printed.sheets,
        "notes": printed.notes,
        "peak_mb": peak_mb(),
        "cpu_seconds": time.process_time() - began,
    }


def _html(job: dict[str, Any], _say: Say) -> dict[str, Any]:
    from batches.labels.webpages import write_html

    plain = json.loads(Path(job["job"]).read_text(encoding="utf-8"))
    return {"sheets": write_html(plain["html"], Path(job["out"]), exact=plain["exact"])}


_JOBS: dict[str, Callable[[dict[str, Any], Say], dict[str, Any]]] = {
    "labels": _labels,
    "html": _html,
}


def peak_mb() -> float:
    """Return this process's largest memory so far in MB; 0 where the system does not tell."""
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii", errors="replace")
    except OSError:
        return 0.0
    for line in status.splitlines():
        if line.startswith("VmHWM:"):
            return int(line.split()[1]) / 1024
    return 0.0


if __name__ == "__main__":
    main()
