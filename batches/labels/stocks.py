"""What label stock is there, and where does each label lie on it?

All lengths are millimetres; the origin is the top left corner of the page or of the label, x runs
right and y runs down. A stock is plain data: nothing else in the program knows a size.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from batches.labels.errors import LabelRefused


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """One kind of label paper: a sheet of rows × columns, or single labels on a roll or card.

    `inset_x` and `inset_y` are the blank edges inside every label (what the printer cannot
    reach, or should not); `offset_x` and `offset_y` move everything on the page, as measured on a
    calibration page (positive = right and down).
    """

    name: str
    title: str
    page_width: float
    page_height: float
    label_width: float
    label_height: float
    columns: int = 1
    rows: int = 1
    margin_left: float = 0.0
    margin_top: float = 0.0
    gap_x: float = 0.0
    gap_y: float = 0.0
    inset_x: float = 1.5
    inset_y: float = 1.5
    blank_lower_third: bool = False
    single: bool = False
    offset_x: float = 0.0
    offset_y: float = 0.0

    @property
    def labels_per_page(self) -> int:
        """How many labels one page holds."""
        return self.rows * self.columns

    @property
    def usable_height(self) -> float:
        """Height in mm that may be printed on: all of it, or what stays out of the soil."""
        return self.label_height * 2 / 3 if self.blank_lower_third else self.label_height

    @property
    def stands_upright(self) -> bool:
        """Whether the part to print on is taller than wide, so that the QR stands over the text."""
        return self.usable_height > self.label_width

    def corner(self, place: int) -> tuple[float, float]:
        """Top left corner, in mm, of the label at `place` (0-based, row by row)."""
        row, column = divmod(place, self.columns)
        return (
            self.margin_left + self.offset_x + column * (self.label_width + self.gap_x),
            self.margin_top + self.offset_y + row * (self.label_height + self.gap_y),
        )


# The cut edge of a sheet may be out by a rounding of the maker's drawing.
_SLACK_MM = 0.05
_LARGEST_PAGE_MM = 1000.0
_SMALLEST_LABEL_MM = 10.0


def check_stock(stock: Stock) -> None:
    """Raise LabelRefused with one plain sentence when the measures cannot be true."""
    fault = _count_fault(stock) or _size_fault(stock) or _grid_fault(stock)
    if fault:
        raise LabelRefused(f"The label stock “{stock.title or stock.name}” cannot be used: {fault}")


def _count_fault(stock: Stock) -> str:
    if stock.rows < 1 or stock.columns < 1:
        return "it needs at least one row and one column of labels."
    if stock.labels_per_page > 1000:
        return "more than 1,000 labels on a page is not a sheet of labels."
    if stock.single and stock.labels_per_page != 1:
        return "single labels have one row and one column."
    return ""


def _size_fault(stock: Stock) -> str:
    lengths = (stock.page_width, stock.page_height, stock.label_width, stock.label_height)
    blanks = (stock.margin_left, stock.margin_top, stock.gap_x, stock.gap_y)
    if not all(0 < length <= _LARGEST_PAGE_MM for length in lengths):
        return "page and label must be between 0 and 1,000 mm wide and high."
    if not all(0 <= blank <= _LARGEST_PAGE_MM for blank in (*blanks, stock.inset_x, stock.inset_y)):
        return "margins, gaps and blank edges cannot be negative."
    if min(stock.label_width, stock.usable_height) < _SMALLEST_LABEL_MM:
        return f"a label needs at least {_SMALLEST_LABEL_MM:g} mm each way to print on."
    if 2 * stock.inset_x >= stock.label_width or 2 * stock.inset_y >= stock.usable_height:
        return "the blank edges leave nothing to print on."
    if max(abs(stock.offset_x), abs(stock.offset_y)) > 20:
        return "a shift of more than 20 mm is not a calibration; check the margins."
    return ""


def _grid_fault(stock: Stock) -> str:
    width = (
        stock.margin_left + stock.columns * stock.label_width + (stock.columns - 1) * stock.gap_x
    )
    height = stock.margin_top + stock.rows * stock.label_height + (stock.rows - 1) * stock.gap_y
    if width > stock.page_width + _SLACK_MM:
        return (
            f"its columns need {width:.1f} mm and the page is {stock.page_width:.1f} mm wide; "
            "check columns, width, gap and left margin."
        )
    if height > stock.page_height + _SLACK_MM:
        return (
            f"its rows need {height:.1f} mm and the page is {stock.page_height:.1f} mm high; "
            "check rows, height, gap and top margin."
        )
    return ""


def _single(*, name: str, title: str, width: float, height: float, blank: bool = False) -> Stock:
    return Stock(
        name=name,
        title=title,
        page_width=width,
        page_height=height,
        label_width=width,
        label_height=height,
        inset_x=1.25,
        inset_y=1.25,
        blank_lower_third=blank,
        single=True,
    )


# Sizes of stock commonly sold; common practice, no source. Measure your own and add it.
STOCKS: Mapping[str, Stock] = MappingProxyType(
    {
        stock.name: stock
        for stock in (
            Stock(
                name="a4-24",
                title="A4 sheet, 24 labels of 63.5 × 33.9 mm",
                page_width=210,
                page_height=297,
                label_width=63.5,
                label_height=33.9,
                columns=3,
                rows=8,
                margin_left=7.25,
                margin_top=12.9,
                gap_x=2.5,
                inset_x=2.0,
                inset_y=2.0,
            ),
            Stock(
                name="a4-65",
                title="A4 sheet, 65 labels of 38.1 × 21.2 mm",
                page_width=210,
                page_height=297,
                label_width=38.1,
                label_height=21.2,
                columns=5,
                rows=13,
                margin_left=4.75,
                margin_top=10.7,
                gap_x=2.5,
                inset_x=1.0,
                inset_y=1.0,
            ),
            _single(
                name="single-100x25",
                title="Single labels of 100 × 25 mm, on a roll",
                width=100,
                height=25,
            ),
            _single(
                name="stick-in-25x127",
                title="Stick-in labels of 25 × 127 mm, lower third in the soil",
                width=25,
                height=127,
                blank=True,
            ),
        )
    }
)


def stock_named(name: str) -> Stock:
    """Return the shipped stock of that name; LabelRefused lists the names there are."""
    try:
        return STOCKS[name]
    except KeyError:
        known = ", ".join(STOCKS)
        raise LabelRefused(
            f"There is no label stock “{name}”. The ones that come with the program: {known}.",
            field="stock",
        ) from None
