"""What will the first sheet look like? As a drawing for a page, before anything is printed.

Drawn from the same layout as the print, in the same font, so that lines break where they will.
All looks are attributes: a page's content security policy allows no styles of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from batches.labels.fitting import LEADING
from batches.labels.layout import Laid, lay_out, manner_of
from batches.labels.placing import POINTS_PER_MM
from batches.labels.printing import checked
from batches.labels.qr import light_runs, matrix
from batches.labels.rows import LabelRow
from batches.labels.stocks import Stock

# Where in a line box the letters stand, in type sizes: half the leading and the font's ascent.
_BASELINE = 0.9
_MOST_CHECKED = 1_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """A drawing of the first sheet (SVG), what it is, and what cannot be printed as given."""

    svg: str
    labels: int
    sheets: int
    notes: tuple[str, ...]


def first_sheet(
    rows: Sequence[LabelRow], stock: Stock, *, copies: int = 1, start_at: int = 1
) -> Preview:
    """Return the first sheet that `print_labels` would make; raises LabelRefused as that does.

    `notes` speaks of the first thousand labels at the most.
    """
    start_at = checked(rows, stock, copies=copies, start_at=start_at)
    manner = manner_of(rows, stock)
    wanted = len(rows) * copies
    places = stock.labels_per_page - (start_at - 1)
    shown = [row for row in rows[: -(-places // copies)] for _ in range(copies)][:places]
    laid = {row: lay_out(row, manner) for row in dict.fromkeys((*shown, *rows[:_MOST_CHECKED]))}
    after = max(0, wanted - places)
    return Preview(
        svg="".join(_sheet(shown, laid, stock, start_at=start_at)),
        labels=wanted,
        sheets=1 + -(-after // stock.labels_per_page),
        notes=tuple(note for label in laid.values() for note in label.notes),
    )


def _sheet(
    shown: Sequence[LabelRow], laid: dict[LabelRow, Laid], stock: Stock, *, start_at: int
) -> Iterator[str]:
    width, height = stock.page_width, stock.page_height
    names = {row: number for number, row in enumerate(dict.fromkeys(shown))}
    yield (
        f'<svg class="plot" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}"'
        f' role="img" aria-label="{_codes(shown)}">'
        f'<rect x="0" y="0" width="{width:g}" height="{height:g}" fill="#fff" stroke="#000"'
        ' stroke-width="0.5"/><defs>'
    )
    for row, number in names.items():
        yield f'<g id="label-{number}">'
        yield from _label(laid[row])
        yield "</g>"
    yield "</defs>"
    for place in range(stock.labels_per_page):
        x, y = stock.corner(place)
        yield (
            f'<rect x="{x:.2f}" y="{y:.2f}" width="{stock.label_width:g}"'
            f' height="{stock.label_height:g}" rx="1" fill="none" stroke="#767676"'
            ' stroke-width="0.25" stroke-dasharray="1 1"/>'
        )
        number = place - (start_at - 1)
        if 0 <= number < len(shown):
            yield f'<use href="#label-{names[shown[number]]}" x="{x:.2f}" y="{y:.2f}"/>'
    yield "</svg>"


def _codes(shown: Sequence[LabelRow]) -> str:
    codes = list(dict.fromkeys(row.code for row in shown))
    more = f" + {len(codes) - 3}" if len(codes) > 3 else ""
    return escape(", ".join(codes[:3]) + more)


def _label(label: Laid) -> Iterator[str]:
    """Yield one label, its origin the label's top left corner, in mm."""
    plan, frame = label.plan, label.frame
    quiet = (plan.side_mm - plan.modules * plan.module_mm) / 2
    light = "".join(
        f"M{x} {y}h{run}v1h-{run}z"
        for x, y, run in light_runs(matrix(plan.segments, plan.version, plan.level))
    )
    yield (
        f'<g transform="translate({frame.qr_x + quiet:.3f} {frame.qr_y + quiet:.3f})'
        f' scale({plan.module_mm:g})"><path d="M0 0h{plan.modules}v{plan.modules}H0z"/>'
        f'<path d="{light}" fill="#fff"/></g>'
    )
    for one in label.lines:
        size = one.size / POINTS_PER_MM
        x, y = one.x / POINTS_PER_MM, one.y / POINTS_PER_MM + _BASELINE * size * LEADING / 1.15
        weight = ' font-weight="700"' if one.bold else ""
        runs = "".join(
            f'<tspan font-style="italic">{escape(text)}</tspan>' if italic else escape(text)
            for text, italic in one.line
        )
        yield f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}"{weight}>{runs}</text>'
