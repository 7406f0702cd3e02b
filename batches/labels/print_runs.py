"""How far is a long print, may it still be stopped, and where is its PDF?

A run is one print in a thread of its own; the work is done by the print process. Runs live in
memory and their files in a folder of this program's: both are gone when the server stops, and a
run that is forgotten can be printed again.
"""

from __future__ import annotations

import atexit
import tempfile
import threading
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import UUID, uuid4

from batches.core.errors import NurseryError
from batches.labels.errors import LabelsUnavailable, PrintStopped
from batches.labels.printing import PrintResult, checked, print_labels
from batches.labels.rows import LabelRow
from batches.labels.stocks import Stock

if TYPE_CHECKING:
    from batches.services.passports import Printed

#: runs whose files are kept, the latest ones
KEPT = 12


@dataclass(slots=True, kw_only=True)
class PrintRun:
    """One print: how many labels are done of how many; then its result, or why there is none."""

    id: UUID
    codes: tuple[str, ...]
    kind: str
    stock: str
    wanted: int
    output: Path
    by: str
    passports: tuple[Printed, ...] = ()
    done: int = 0
    result: PrintResult | None = None
    failure: NurseryError | None = None
    stopping: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _noted: bool = False

    @property
    def is_over(self) -> bool:
        """Whether it ended, well or not."""
        return self.over.is_set()

    @property
    def was_stopped(self) -> bool:
        """Whether somebody stopped it."""
        return isinstance(self.failure, PrintStopped)

    def stop(self) -> None:
        """Stop it; nothing of it is printed."""
        self.stopping.set()

    def wait(self, seconds: float) -> bool:
        """Wait until it is over, at most so long; returns whether it is."""
        return self.over.wait(seconds)

    def first_to_note(self) -> bool:
        """Return True once: for whoever writes this print into the log."""
        with self._lock:
            first, self._noted = not self._noted, True
        return first

    def pdf(self) -> bytes | None:
        """Return the PDF; None when there is none, or none any more."""
        try:
            return self.output.read_bytes() if self.result is not None else None
        except FileNotFoundError:
            return None


_RUNS: dict[UUID, PrintRun] = {}
_RUNS_LOCK = threading.Lock()


@cache
def _folder() -> Path:
    folder = tempfile.TemporaryDirectory(prefix="frondbook-prints-")
    atexit.register(folder.cleanup)
    return Path(folder.name)


def start_run(
    rows: Sequence[LabelRow],
    stock: Stock,
    *,
    codes: Sequence[str],
    kind: str,
    by: str,
    copies: int = 1,
    start_at: int = 1,
    passports: Sequence[Printed] = (),
) -> PrintRun:
    """Begin to print and return at once; raises LabelRefused for what cannot be printed.

    ``passports`` are those on its labels, to be noted as issued once the PDF is given out.
    """
    checked(rows, stock, copies=copies, start_at=start_at)
    number = uuid4()
    run = PrintRun(
        id=number,
        codes=tuple(codes),
        kind=kind,
        stock=stock.name,
        wanted=len(rows) * copies,
        output=_folder() / f"{number}.pdf",
        by=by,
        passports=tuple(passports),
    )
    with _RUNS_LOCK:
        _RUNS[number] = run
        for old in [one for one in _RUNS.values() if one.is_over][:-KEPT]:
            old.output.unlink(missing_ok=True)
            del _RUNS[old.id]
    threading.Thread(
        target=_print, args=(run, rows, stock, copies, start_at), daemon=True, name="print-run"
    ).start()
    return run


def run_of(number: UUID) -> PrintRun | None:
    """Return a run; None when it is not known, or forgotten."""
    return _RUNS.get(number)


def _print(
    run: PrintRun, rows: Sequence[LabelRow], stock: Stock, copies: int, start_at: int
) -> None:
    def progress(labels: int) -> None:
        run.done = labels

    try:
        run.result = print_labels(
            rows,
            stock,
            copies=copies,
            start_at=start_at,
            output=run.output,
            progress=progress,
            cancelled=run.stopping.is_set,
        )
        run.done = run.wanted
    except NurseryError as error:
        run.failure = error
    except Exception as error:
        # Whoever waits for it must hear of it; a thread's own traceback goes to the log alone.
        run.failure = LabelsUnavailable(f"The print failed ({type(error).__name__}).")
        raise
    finally:
        run.over.set()
