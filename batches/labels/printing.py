"""How does the rest of the program print?

Everything here hands plain data to the one print process and gets a file or bytes back; nothing in
this process imports the PDF library. Errors are sentences for the user (`batches.labels.errors`).
"""

from __future__ import annotations

import json
import secrets
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from batches.labels.calibration import calibration_html
from batches.labels.errors import LabelRefused, LabelsUnavailable
from batches.labels.rows import LabelRow, as_plain, check_row
from batches.labels.stocks import Stock, check_stock
from batches.labels.worker import WORKER

MOST_LABELS = 20_000
"""More labels than this in one print are refused: they are a slip of the finger."""

# A job may take this long: the first label's share, and each further one's.
_SECONDS = 60.0
_SECONDS_A_LABEL = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintResult:
    """What was printed: labels, sheets (pages), and how long it took.

    `notes` says for each label what could not be printed as given, in words for the user. Of the
    print process: `peak_mb` is its largest memory so far (0 where the system does not tell) and
    `cpu_seconds` what it computed, which other work on the computer does not lengthen.
    """

    labels: int
    sheets: int
    seconds: float
    notes: tuple[str, ...] = ()
    peak_mb: float = 0.0
    cpu_seconds: float = 0.0


def print_labels(
    rows: Sequence[LabelRow],
    stock: Stock,
    *,
    copies: int = 1,
    start_at: int = 1,
    output: Path,
    progress: Callable[[int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> PrintResult:
    """Write the labels as a PDF to `output`, each `copies` times, one after the other.

    `start_at` is the first free label of a used sheet, counted from 1 along the rows; singles
    ignore it. `progress` hears how many labels are done, `cancelled` is asked whether to stop. The
    file appears whole or not at all. Raises LabelRefused, LabelsUnavailable or PrintStopped.
    """
    began = time.perf_counter()
    start_at = checked(rows, stock, copies=copies, start_at=start_at)
    if not output.parent.is_dir():
        raise LabelRefused(f"There is no folder {output.parent} to write the labels to.")
    part = output.with_name(f".{output.name}.{secrets.token_hex(4)}.part")
    job = _job(rows, stock, copies=copies, start_at=start_at, first_only=False)
    try:
        answer = _run(
            "labels",
            job,
            out=part,
            timeout=_SECONDS + _SECONDS_A_LABEL * len(rows) * copies,
            progress=progress,
            cancelled=cancelled,
        )
        part.replace(output)
    except OSError as error:
        raise LabelRefused(f"The labels could not be written to {output}: {error}") from error
    finally:
        part.unlink(missing_ok=True)
    return PrintResult(
        labels=answer["labels"],
        sheets=answer["sheets"],
        seconds=time.perf_counter() - began,
        notes=tuple(answer["notes"]),
        peak_mb=answer["peak_mb"],
        cpu_seconds=answer["cpu_seconds"],
    )


def first_sheet_pdf(
    rows: Sequence[LabelRow], stock: Stock, *, copies: int = 1, start_at: int = 1
) -> bytes:
    """Return the PDF of the first sheet (or single label) that `print_labels` would make."""
    start_at = checked(rows, stock, copies=copies, start_at=start_at)
    job = _job(rows, stock, copies=copies, start_at=start_at, first_only=True)
    with tempfile.TemporaryDirectory(prefix="frondbook-") as folder:
        output = Path(folder) / "first.pdf"
        _run("labels", job, out=output, timeout=_SECONDS)
        return output.read_bytes()


def html_to_pdf(html: str, *, exact: bool = False, timeout: float = _SECONDS) -> bytes:
    """Return the PDF of a whole HTML document, in the label font unless it names another.

    Only data: addresses are opened. `exact` asks the viewer not to fit it to the paper when it is
    printed. Raises LabelsUnavailable.
    """
    with tempfile.TemporaryDirectory(prefix="frondbook-") as folder:
        output = Path(folder) / "page.pdf"
        job = json.dumps({"html": html, "exact": exact})
        _run("html", job, out=output, timeout=timeout)
        return output.read_bytes()


def calibration_pdf(stock: Stock, *, shifted: bool = False, language: str = "en-gb") -> bytes:
    """Return a page of ruled frames and millimetre ticks to hold against the stock.

    It is drawn without the stock's own shift, which it serves to measure; `shifted` draws it with.
    """
    check_stock(stock)
    return html_to_pdf(calibration_html(stock, shifted=shifted, language=language), exact=True)


def why_unavailable() -> str:
    """Return one line on what to install; empty when labels can be printed here."""
    try:
        WORKER.start()
    except LabelsUnavailable as error:
        return error.message
    return ""


def checked(rows: Sequence[LabelRow], stock: Stock, *, copies: int, start_at: int) -> int:
    """Refuse what cannot be printed; return the place to start at, which singles do not have."""
    check_stock(stock)
    if not rows:
        raise LabelRefused("There is nothing to print: no label was chosen.")
    if not 1 <= copies <= MOST_LABELS:
        raise LabelRefused("The number of copies must be at least 1.", field="copies")
    if len(rows) * copies > MOST_LABELS:
        raise LabelRefused(
            f"{len(rows) * copies:,} labels are too many for one print; the most is "
            f"{MOST_LABELS:,}. Print them in parts.",
            field="copies",
        )
    for row in rows:
        check_row(row)
    if stock.single:
        return 1
    if not 1 <= start_at <= stock.labels_per_page:
        raise LabelRefused(
            f"A sheet of {stock.title or stock.name} has labels 1 to {stock.labels_per_page}; "
            f"there is no label {start_at} to start at.",
            field="start_at",
        )
    return start_at


def _job(
    rows: Sequence[LabelRow], stock: Stock, *, copies: int, start_at: int, first_only: bool
) -> str:
    """Return the job as plain text."""
    return json.dumps(
        {
            "rows": [as_plain(row) for row in rows],
            "stock": asdict(stock),
            "copies": copies,
            "start_at": start_at,
            "first_only": first_only,
        }
    )


def _run(
    deed: str,
    text: str,
    *,
    out: Path,
    timeout: float,
    progress: Callable[[int], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Mapping[str, Any]:
    """Hand a job over in a file of its own, which only this user can read."""
    with tempfile.TemporaryDirectory(prefix="frondbook-") as folder:
        job = Path(folder) / "job"
        job.write_text(text, encoding="utf-8")
        order = {"do": deed, "job": str(job), "out": str(out.resolve())}
        return WORKER.run(order, timeout=timeout, progress=progress, cancelled=cancelled)
