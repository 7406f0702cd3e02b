"""How do rows of labels become a PDF?

Each distinct label is drawn once, as a form, and placed as often as it is wanted (ISO 32000-1,
8.10). Rows are taken in portions, each with its own fonts, and written out at once: memory does not
grow with the run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import BinaryIO

from batches.labels.layout import Laid, Manner, lay_out, manner_of
from batches.labels.pdf_file import PdfFile, dictionary, reference
from batches.labels.placing import POINTS_PER_MM, Placed
from batches.labels.qr import light_runs, matrix
from batches.labels.rows import LabelRow
from batches.labels.stocks import Stock
from batches.labels.typesetting import LineKey, Set, Typesetter
from batches.services.language import said

PORTION = 200
"""Labels laid out in one go."""


@dataclass(frozen=True, slots=True)
class Printed:
    """What was written: labels, pages, and notes on what could not be printed as given."""

    labels: int
    sheets: int
    notes: tuple[str, ...]


def write_labels(
    rows: Sequence[LabelRow],
    stock: Stock,
    target: BinaryIO,
    *,
    copies: int,
    start_at: int,
    progress: Callable[[int], None],
    first_only: bool = False,
) -> Printed:
    """Write the labels to `target`, the first at place `start_at` (1-based) of its sheet.

    `progress` hears how many labels are done. `first_only` ends after the first sheet, which looks
    as it will in the whole print. LabelRefused when a label does not fit.
    """
    pdf = PdfFile(target)
    press = _Press(pdf, manner_of(rows, stock))
    pages = _Pages(pdf, stock, first=start_at - 1)
    wanted = len(rows) * copies
    if first_only:
        wanted = min(wanted, stock.labels_per_page - (start_at - 1))
    waiting = iter(rows[: -(-wanted // copies)])
    done = 0
    while portion := list(islice(waiting, PORTION)):
        forms = press.forms(portion)
        for row in portion:
            for _ in range(min(copies, wanted - done)):
                pages.place(forms[row])
                done += 1
        progress(done)
    pages.close()
    language = rows[0].language
    title = f"{said('Labels', language=language)}, "
    title += said(stock.title, language=language) or stock.name
    pdf.finish(title=title, language=language)
    return Printed(labels=done, sheets=pdf.page_count, notes=tuple(press.notes))


class _Press:
    """Draws each distinct label once; remembers the forms of the whole run."""

    def __init__(self, pdf: PdfFile, manner: Manner) -> None:
        self._pdf = pdf
        self._manner = manner
        self._typesetter = Typesetter(pdf)
        self._forms: dict[LabelRow, int] = {}
        self.notes: list[str] = []

    def forms(self, rows: Sequence[LabelRow]) -> dict[LabelRow, int]:
        """Return the number of each row's form, drawn now where it was not yet."""
        laid = {
            row: lay_out(row, self._manner) for row in dict.fromkeys(rows) if row not in self._forms
        }
        keys = dict.fromkeys(_key(one) for label in laid.values() for one in label.lines)
        if keys:
            lines, fonts = self._typesetter.set_lines(list(keys))
            resources = dictionary({"Font": reference(fonts)})
            for row, label in laid.items():
                self.notes.extend(label.notes)
                self._forms[row] = self._draw(label, lines, resources)
        return {row: self._forms[row] for row in rows}

    def _draw(self, label: Laid, lines: dict[LineKey, Set], resources: bytes) -> int:
        height = self._manner.stock.label_height * POINTS_PER_MM
        width = self._manner.stock.label_width * POINTS_PER_MM
        content = b"\n".join(
            (_qr(label, height), _shapes(label, height), *_words(label, lines, height))
        )
        form = {
            "Type": b"/XObject",
            "Subtype": b"/Form",
            "BBox": b"[0 0 %.3f %.3f]" % (width, height),
            "Resources": resources,
        }
        return self._pdf.add_stream(content, form)


def _key(one: Placed) -> LineKey:
    return LineKey(line=one.line, bold=one.bold, size=one.size)


def _qr(label: Laid, height: float) -> bytes:
    """Return the QR: a dark square, and on it the light modules as one path.

    A printer paints every dot that a shape touches (ISO 32000-1, 10.6, scan conversion), and the
    ink spreads. Painted last, the light modules get those dots, so the dark ones do not swell into
    each other. The unit is the module, the origin the symbol's top left.
    """
    plan, frame = label.plan, label.frame
    quiet = (plan.side_mm - plan.modules * plan.module_mm) / 2
    unit = plan.module_mm * POINTS_PER_MM
    x = (frame.qr_x + quiet) * POINTS_PER_MM
    y = height - (frame.qr_y + quiet) * POINTS_PER_MM
    runs = light_runs(matrix(plan.segments, plan.version, plan.level))
    path = b" ".join(b"%d %d %d 1 re" % run for run in runs)
    place = (unit, -unit, x, y, plan.modules, plan.modules)
    return b"q %.5f 0 0 %.5f %.4f %.4f cm\n0 0 %d %d re f 1 g\n%s f Q" % (*place, path)


def _shapes(label: Laid, height: float) -> bytes:
    if not label.shapes:
        return b""
    x, y = label.shapes_at
    return b"q 1 0 0 -1 %.3f %.3f cm\n%sQ" % (x, height - y, label.shapes)


def _words(label: Laid, lines: dict[LineKey, Set], height: float) -> Iterator[bytes]:
    """Return the lines, clipped to their column: whatever a font does, it stays off the QR."""
    frame = label.frame
    # Slanted letters may lean a little over their left edge, and the label's blank edge is there.
    yield b"q 0 %.3f %.3f %.3f re W n BT" % (
        0.0,
        (frame.x + frame.width) * POINTS_PER_MM,
        height,
    )
    for one in label.lines:
        for x, y, orders in lines[_key(one)].pieces:
            place = (one.x + x, height - one.y - y)
            yield b"0.75 0 0 0.75 %.3f %.3f Tm\n%s" % (*place, orders)
    yield b"ET Q"


class _Pages:
    """Fills pages with forms, place by place."""

    def __init__(self, pdf: PdfFile, stock: Stock, *, first: int) -> None:
        self._pdf = pdf
        self._stock = stock
        self._next = first
        self._placed: list[tuple[int, int]] = []

    def place(self, form: int) -> None:
        """Put the form on the next place."""
        self._placed.append((self._next, form))
        self._next += 1
        if self._next == self._stock.labels_per_page:
            self.close()

    def close(self) -> None:
        """End the page that is being filled, if there is one."""
        if not self._placed:
            return
        stock = self._stock
        orders = []
        for place, form in self._placed:
            x, y = stock.corner(place)
            bottom = stock.page_height - y - stock.label_height
            orders.append(
                b"q 1 0 0 1 %.3f %.3f cm /L%d Do Q"
                % (x * POINTS_PER_MM, bottom * POINTS_PER_MM, form)
            )
        used = dict.fromkeys(form for _, form in self._placed)
        names = dictionary({f"L{form}": reference(form) for form in used})
        self._pdf.add_page(
            width=stock.page_width * POINTS_PER_MM,
            height=stock.page_height * POINTS_PER_MM,
            content=b"\n".join(orders),
            resources=dictionary({"XObject": names}),
        )
        self._placed, self._next = [], 0
