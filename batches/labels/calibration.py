"""Does the printer meet the labels?

A page to print on plain paper and hold against the stock: each label ruled, and millimetre rulers,
from which the shift right and down is read and typed into the stock.
"""

from __future__ import annotations

from dataclasses import replace
from html import escape

from batches.labels.stocks import Stock
from batches.services.language import said

_RULER_MM = 40
_SPACE_MM = 60.0
_HOW = (
    "Print at 100 %. Lay this page over the labels against the light: where the ruled frame stands "
    "1 mm too far left, shift 1 mm right."
)


def calibration_html(stock: Stock, *, shifted: bool, language: str) -> str:
    """Return the page as HTML: without the stock's own shift to measure it, or with it to see."""
    title = escape(said("Calibration page", language=language))
    bare = stock if shifted else replace(stock, offset_x=0.0, offset_y=0.0)
    boxes = []
    for place in range(bare.labels_per_page):
        x, y = bare.corner(place)
        boxes.append(_box(x, y, bare.label_width, bare.label_height, str(place + 1)))
        if bare.blank_lower_third:
            boxes.append(_line(x, y + bare.usable_height, bare.label_width, 0))
    x, y = bare.corner(0)
    rulers = _ruler(x, y, along=bare.label_width, down=False)
    rulers += _ruler(x, y, along=bare.label_height, down=True)
    return (
        f"<!doctype html><html lang={language}><head><title>{title}</title><style>"
        f"@page{{size:{bare.page_width}mm {bare.page_height}mm;margin:0}}"
        "body{margin:0;font-size:7pt}div{position:absolute;box-sizing:border-box}"
        ".l{border:0.1mm solid #000;text-align:right;padding:0.5mm 1mm}"
        ".t{border:0 solid #000;border-width:0 0 0 0.1mm}"
        ".u{border:0 solid #000;border-width:0.1mm 0 0}"
        f".n{{font-size:6pt}}</style></head><body>{''.join(boxes)}{rulers}"
        f"{_words(bare, language)}</body></html>"
    )


def _words(stock: Stock, language: str) -> str:
    """Return the sentence that says what to do, on stock that has the room for it."""
    if stock.label_width < _SPACE_MM:
        return ""
    x, y = stock.corner(0)
    words = f"{said(stock.title, language=language)}. {said(_HOW, language=language)}"
    return (
        f'<div class=n style="left:{x + 4}mm;top:{y + 5}mm;width:{stock.label_width - 14}mm">'
        f"{escape(words)}</div>"
    )


def _box(x: float, y: float, width: float, height: float, text: str) -> str:
    place = f"left:{x:.3f}mm;top:{y:.3f}mm;width:{width:.3f}mm;height:{height:.3f}mm"
    return f'<div class=l style="{place}">{text}</div>'


def _line(x: float, y: float, width: float, height: float) -> str:
    place = f"left:{x:.3f}mm;top:{y:.3f}mm;width:{width:.3f}mm;height:{height:.3f}mm"
    return f'<div class={"u" if width else "t"} style="{place}"></div>'


def _ruler(x: float, y: float, *, along: float, down: bool) -> str:
    """Return millimetre ticks along an edge of the first label, longer at every five and ten."""
    ticks = []
    for step in range(1, min(_RULER_MM, int(along)) + 1):
        long = 3.0 if step % 10 == 0 else 2.0 if step % 5 == 0 else 1.0
        ticks.append(_line(x, y + step, long, 0) if down else _line(x + step, y, 0, long))
    return "".join(ticks)
