"""How fast are labels printed, beside the plainest program that draws the same ones?

The floor is reportlab, which sets no type: it is handed every line with its place and size, and
the same QR maker. It draws each distinct label once and repeats it where that pays, so it is as
quick as a careful hand would make it. Ours starts from rows: it fits, typesets and checks in its
own process. Times are the best of a few by turns, which other work on the computer disturbs least.
"""

from __future__ import annotations

import io
import statistics
import tempfile
import time
from collections.abc import Sequence
from itertools import count, islice
from pathlib import Path
from typing import Any

from batches.labels import STOCKS, LabelRow, PrintResult, Stock, print_labels
from batches.labels.faces import face
from batches.labels.layout import Laid, lay_out, manner_of
from batches.labels.placing import POINTS_PER_MM
from batches.labels.qr import QUIET, matrix
from batches.labels.worker import WORKER
from tests.bench.figure import Figure

SHEET, SINGLE = STOCKS["a4-24"], STOCKS["single-100x25"]
REPEATS = 3
_NUMBERS = count(10_000)


def figures() -> list[Figure]:
    """Measure everything; takes about two minutes."""
    WORKER.close()
    made = [
        *_beside("1,000 labels of 25 batches", 25, SHEET, copies=40, bar=2.0, kilobytes=150),
        *_beside("1,000 distinct on sheets", 1000, SHEET, bar=2.5),
        *_beside("1,000 distinct singles", 1000, SINGLE, bar=3.5),
    ]
    return [*made, *_growth()]


def _new_rows(labels: int) -> list[LabelRow]:
    """Return labels of trays never printed before: nothing may be remembered from the last time."""
    return [_row(number // 40, number) for number in islice(_NUMBERS, labels)]


def _row(batch: int, number: int) -> LabelRow:
    """Return a tray's label of which no line but the date is like another tray's."""
    code = f"{number}-26W14-{batch:03d}-K"
    return LabelRow(
        kind="tray",
        code=code,
        url=f"http://192.168.1.20:8000/t/{code}",
        name_runs=(("Dryopteris affinis", True), (f" 'Ashlinn {number} {batch}'", False)),
        sown_text="sown Mon 30 Mar 2026 (wk 14)",
        lot_code=f"26L-{batch:03d}-R",
        tray_number=str(number),
    )


def _beside(
    name: str,
    labels: int,
    stock: Stock,
    *,
    bar: float,
    copies: int = 1,
    kilobytes: float | None = None,
) -> list[Figure]:
    """Print the rows both ways, by turns, and compare the best times."""
    ours, floor, size = [], [], 0
    with tempfile.TemporaryDirectory() as folder:
        output = Path(folder) / "labels.pdf"
        print_labels(_new_rows(1), stock, output=output)
        for _ in range(REPEATS):
            rows = _new_rows(labels)
            began = time.perf_counter()
            print_labels(rows, stock, copies=copies, output=output)
            ours.append(time.perf_counter() - began)
            manner = manner_of(rows, stock)
            laid = [lay_out(row, manner) for row in rows]
            began = time.perf_counter()
            _reportlab(laid, stock, copies=copies)
            floor.append(time.perf_counter() - began)
        size = output.stat().st_size
    value, beside = min(ours), min(floor)
    ratio = value / beside
    made = [Figure(name, value, "s", beside, ratio, f"≤ {bar:g} ×", ratio <= bar)]
    if kilobytes:
        kb = size / 1000
        made.append(
            Figure(f"{name}, file", kb, "KB", None, None, f"≤ {kilobytes:g} KB", kb <= kilobytes)
        )
    return made


def _growth() -> list[Figure]:
    """Measure time a label from 400 to 4,000, and memory at 5,000, in fresh processes."""
    # By turns and as many labels each way, so that other work on the computer meets both alike.
    short, long = [], []
    for _ in range(2):
        long.append(_a_label(4000))
        short += [_a_label(400) for _ in range(10)]
    value, beside = statistics.mean(long), statistics.mean(short)
    ratio = value / beside
    WORKER.close()
    memory = _printed(5000).peak_mb
    return [
        Figure(
            "computing time a label, 4,000 beside 400",
            value,
            "ms",
            beside,
            ratio,
            "≤ 1.3 ×",
            ratio <= 1.3,
        ),
        Figure("memory at 5,000 labels", memory, "MB", None, None, "≤ 350 MB", 0 < memory <= 350),
    ]


def _a_label(labels: int) -> float:
    return _printed(labels).cpu_seconds / labels * 1000


def _printed(labels: int) -> PrintResult:
    rows = _new_rows(labels)
    with tempfile.TemporaryDirectory() as folder:
        print_labels(rows[:1], SHEET, output=Path(folder) / "first.pdf")
        return print_labels(rows, SHEET, output=Path(folder) / "labels.pdf")


def _reportlab(laid: Sequence[Laid], stock: Stock, *, copies: int) -> int:
    """Draw the same labels with reportlab; returns the size of the file in bytes."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont
    from reportlab.pdfgen.canvas import Canvas

    for bold in (False, True):
        for italic in (False, True):
            path = str(face(bold=bold, italic=italic).path)
            pdfmetrics.registerFont(TTFont(_font(bold=bold, italic=italic), path))
    target = io.BytesIO()
    size = (stock.page_width * POINTS_PER_MM, stock.page_height * POINTS_PER_MM)
    canvas = Canvas(target, pagesize=size, pageCompression=1)
    place = 0
    for number, label in enumerate(laid):
        for copy in range(copies):
            if place == stock.labels_per_page:
                canvas.showPage()
                place = 0
            x, y = stock.corner(place)
            canvas.saveState()
            canvas.translate(
                x * POINTS_PER_MM, (stock.page_height - y - stock.label_height) * POINTS_PER_MM
            )
            if copies == 1:
                _draw(canvas, label, stock)
            else:
                if copy == 0:
                    canvas.beginForm(f"L{number}")
                    _draw(canvas, label, stock)
                    canvas.endForm()
                canvas.doForm(f"L{number}")
            canvas.restoreState()
            place += 1
    canvas.save()
    return len(target.getvalue())


def _font(*, bold: bool, italic: bool) -> str:
    return f"Label{'B' if bold else ''}{'I' if italic else ''}"


def _draw(canvas: Any, label: Laid, stock: Stock) -> None:
    height = stock.label_height * POINTS_PER_MM
    for one in label.lines:
        x = one.x
        for text, italic in one.line:
            font = _font(bold=one.bold, italic=italic)
            canvas.setFont(font, one.size)
            canvas.drawString(x, height - one.y - 0.9 * one.size, text)
            x += canvas.stringWidth(text, font, one.size)
    plan, unit = label.plan, label.plan.module_mm * POINTS_PER_MM
    left = label.frame.qr_x * POINTS_PER_MM + QUIET * unit
    top = height - label.frame.qr_y * POINTS_PER_MM - QUIET * unit
    path = canvas.beginPath()
    for y, row in enumerate(matrix(plan.segments, plan.version, plan.level)):
        x = 0
        while x < len(row):
            end = x
            while end < len(row) and row[end]:
                end += 1
            if end > x:
                path.rect(left + x * unit, top - (y + 1) * unit, (end - x) * unit, unit)
            x = max(end, x + 1)
    canvas.drawPath(path, stroke=0, fill=1)
