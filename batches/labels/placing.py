"""Where on a label do the QR and the column of text go?

Millimetres from the label's top left corner; lines of text are points.
"""

from __future__ import annotations

from dataclasses import dataclass

from batches.labels.errors import LabelRefused
from batches.labels.fitting import Line
from batches.labels.qr import DOT_MM, QUIET, QrPlan, plan_qr
from batches.labels.stocks import Stock

POINTS_PER_MM = 72 / 25.4

# Shares of the label that the QR may take: what it is given gladly, and the most.
_WISHED_SHARE = 0.4
_MOST_SHARE = 0.55
_NARROWEST_COLUMN_MM = 12.0
_LOWEST_COLUMN_MM = 9.0


@dataclass(frozen=True, slots=True)
class Placed:
    """One line of text: its type and the top left corner of its line box, in points."""

    line: Line
    bold: bool
    size: float
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Frame:
    """The square of the QR with its quiet zone, and the column of text, in mm."""

    qr_x: float
    qr_y: float
    x: float
    y: float
    width: float
    height: float


def plan_for(stock: Stock, url: str) -> QrPlan:
    """Return the QR of `url` for this stock; LabelRefused when there is no room for it."""
    width, height = stock.label_width, stock.usable_height
    if stock.stands_upright:
        return plan_qr(
            url,
            wished_mm=min(width, _WISHED_SHARE * height),
            most_mm=min(width, _MOST_SHARE * height),
        )
    return plan_qr(
        url, wished_mm=min(height, _WISHED_SHARE * width), most_mm=min(height, _MOST_SHARE * width)
    )


def frame_for(stock: Stock, plan: QrPlan) -> Frame:
    """QR and text on this stock: side by side, or one over the other on an upright label.

    The quiet zone may use the label's blank edge (it is blank too); the dark modules may not.
    Everything of the QR stands on whole dots, so that a 203 dpi head draws every module alike.
    """
    side, quiet = plan.side_mm, QUIET * plan.module_mm
    if stock.stands_upright:
        x = _snapped(min(max(0.0, stock.inset_x - quiet), stock.label_width - side))
        y = _snapped(max(0.0, stock.inset_y - quiet))
        top = y + side
        frame = Frame(
            qr_x=x,
            qr_y=y,
            x=stock.inset_x,
            y=top,
            width=stock.label_width - 2 * stock.inset_x,
            height=stock.usable_height - stock.inset_y - top,
        )
    else:
        right = min(stock.label_width, stock.label_width - stock.inset_x + quiet)
        x = _snapped(right - side)
        frame = Frame(
            qr_x=x,
            qr_y=_snapped((stock.usable_height - side) / 2),
            x=stock.inset_x,
            y=stock.inset_y,
            width=x - stock.inset_x,
            height=stock.usable_height - 2 * stock.inset_y,
        )
    if frame.width < _NARROWEST_COLUMN_MM or frame.height < _LOWEST_COLUMN_MM:
        raise LabelRefused(
            f"Beside the QR the stock “{stock.title or stock.name}” leaves {frame.width:.0f} × "
            f"{frame.height:.0f} mm for words, which is too little. Take a larger label."
        )
    return frame


def _snapped(length: float) -> float:
    """`length` in mm, down to a whole printer dot."""
    return int(length / DOT_MM + 1e-6) * DOT_MM
