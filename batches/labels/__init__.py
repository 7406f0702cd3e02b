"""Labels and prints as PDFs: what other parts of the program may use."""

from __future__ import annotations

from batches.labels.errors import LabelRefused, LabelsUnavailable, PrintStopped
from batches.labels.printing import (
    PrintResult,
    calibration_pdf,
    first_sheet_pdf,
    html_to_pdf,
    print_labels,
    why_unavailable,
)
from batches.labels.rows import LabelRow, Passport
from batches.labels.stocks import STOCKS, Stock, check_stock, stock_named

__all__ = [
    "STOCKS",
    "LabelRefused",
    "LabelRow",
    "LabelsUnavailable",
    "Passport",
    "PrintResult",
    "PrintStopped",
    "Stock",
    "calibration_pdf",
    "check_stock",
    "first_sheet_pdf",
    "html_to_pdf",
    "print_labels",
    "stock_named",
    "why_unavailable",
]
