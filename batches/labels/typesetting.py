"""What drawing orders set these lines of text in the label font?

WeasyPrint sets each distinct line once, many in one go on one tall page; the page is never printed,
only its text orders and its fonts are taken. So a thousand labels of one batch cost a handful of
lines, and nothing but text can come through: no link, picture or attachment.
"""

from __future__ import annotations

import atexit
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from html import escape
from typing import Any

from batches.labels.faces import FAMILY, font_face_css
from batches.labels.fitting import LEADING, Line
from batches.labels.pdf_file import PdfFile, reference

# Height of one line's strip on the tall page in CSS pixels; only tells the lines apart.
_STRIP_PX = 400
_POINTS_PER_PX = 0.75
_MATRIX = re.compile(rb"1 0 0 -1 (\S+) (\S+) Tm")
_OBJECT = re.compile(rb"\b(\d+) 0 R\b")


@dataclass(frozen=True, slots=True)
class Set:
    """One line as set: pieces of (x, y, orders), in points from the line box's top left, y down."""

    pieces: tuple[tuple[float, float, bytes], ...]


@dataclass(frozen=True, slots=True)
class LineKey:
    """What makes two lines the same drawing."""

    line: Line
    bold: bool
    size: float


def only_data_fetcher() -> Any:
    """Return a fetcher that opens data: URIs and nothing else: no file, no network."""
    from weasyprint.urls import URLFetcher

    return URLFetcher(allowed_protocols=["data"])


@cache
def font_configuration() -> Any:
    """Return the fonts that WeasyPrint knows, kept for the life of the process."""
    from weasyprint.text.fonts import FontConfiguration

    # It frees C objects when it goes, and must go before the interpreter takes itself apart.
    atexit.register(font_configuration.cache_clear)
    return FontConfiguration()


@cache
def font_css() -> Any:
    """Return the stylesheet that brings the label font, parsed once."""
    from weasyprint import CSS

    return CSS(
        string=f"{font_face_css()}\nhtml{{font-family:'{FAMILY}',sans-serif}}",
        font_config=font_configuration(),
        url_fetcher=only_data_fetcher(),
    )


class Typesetter:
    """Sets lines and writes the fonts they need into a PDF."""

    def __init__(self, pdf: PdfFile) -> None:
        self._pdf = pdf

    def set_lines(self, keys: Sequence[LineKey]) -> tuple[dict[LineKey, Set], int]:
        """Each line's drawing, and the number of the font dictionary that they all use."""
        from weasyprint import CSS, HTML

        sizes = sorted({key.size for key in keys})
        css = CSS(string=_css(sizes, len(keys)), font_config=font_configuration())
        html = HTML(string=_html(keys, sizes), url_fetcher=only_data_fetcher())
        document = html.render(stylesheets=[font_css(), css], font_config=font_configuration())
        taken: dict[str, Any] = {}

        def take(_document: Any, pdf: Any) -> None:
            taken["strips"] = _strips(pdf)
            taken["fonts"] = self._copy_fonts(pdf)

        document.write_pdf(io.BytesIO(), finisher=take)
        strips: list[Set] = taken["strips"]
        if len(strips) != len(keys):
            raise RuntimeError(
                f"{len(keys)} lines were given to WeasyPrint, {len(strips)} came back"
            )
        return dict(zip(keys, strips, strict=True)), taken["fonts"]

    def _copy_fonts(self, source: Any) -> int:
        """Copy the font dictionary and all it refers to; returns its number in our file."""
        page = source.objects[_number(source.page_references[0])]
        resources = source.objects[_number(page["Resources"])]
        numbers: dict[int, int] = {}
        return self._copied(source, _number(resources["Font"]), numbers)

    def _copied(self, source: Any, number: int, numbers: dict[int, int]) -> int:
        if number in numbers:
            return numbers[number]
        numbers[number] = self._pdf.reserve()
        head, mark, body = source.objects[number].data.partition(b"\nstream\n")
        head = _OBJECT.sub(
            lambda found: reference(self._copied(source, int(found[1]), numbers)), head
        )
        self._pdf.add(head + mark + body, number=numbers[number])
        return numbers[number]


def _number(written: bytes) -> int:
    return int(written.split()[0])


def _css(sizes: Sequence[float], count: int) -> str:
    """One strip a line, clipped, which is how the strips are told apart again."""
    rules = [
        f"@page{{margin:0;size:4000px {count * _STRIP_PX + 10}px}}",
        "body{margin:0}",
        f"p{{margin:0;height:{_STRIP_PX}px;overflow:hidden}}",
        "p{white-space:nowrap;font-variant-ligatures:none}",
        ".b{font-weight:700}.i{font-style:italic}.u{font-style:normal}",
    ]
    rules += [
        f".s{place}{{font-size:{size}pt;line-height:{size * LEADING}pt}}"
        for place, size in enumerate(sizes)
    ]
    return "".join(rules)


def _html(keys: Sequence[LineKey], sizes: Sequence[float]) -> str:
    places = {size: place for place, size in enumerate(sizes)}
    lines = []
    for key in keys:
        # A line of one style needs no element inside it, which makes it a third quicker to set.
        slanted = key.line[0][1]
        inner = "".join(
            escape(text)
            if italic == slanted
            else f'<span class="{"i" if italic else "u"}">{escape(text)}</span>'
            for text, italic in key.line
        )
        style = f"s{places[key.size]}{' b' if key.bold else ''}{' i' if slanted else ''}"
        lines.append(f'<p class="{style}">{inner}</p>')
    return f"<!doctype html><html><body>{''.join(lines)}</body></html>"


def _strips(pdf: Any) -> list[Set]:
    """Return the text orders of each strip in order, and empty the page, which is not needed."""
    strips: list[Set] = []
    for written in pdf.page_references:
        page = pdf.objects[_number(written)]
        stream = pdf.objects[_number(page["Contents"])]
        orders, stream.stream = stream.stream, []
        strips.extend(_split(orders, first=len(strips)))
    return strips


def _split(orders: Sequence[Any], *, first: int) -> list[Set]:
    """Cut one page's orders at its clipping rectangles; keep what is text."""
    found: list[list[tuple[float, float, list[bytes]]]] = []
    in_text = False
    for order in orders:
        if not isinstance(order, bytes):
            continue
        if order.endswith(b" re"):
            found.append([])
        elif order in (b"BT", b"ET"):
            in_text = order == b"BT"
        elif in_text and found:
            matrix = _MATRIX.fullmatch(order)
            if matrix:
                x, y = float(matrix[1]), float(matrix[2])
                found[-1].append((x, y, []))
            else:
                found[-1][-1][2].append(order)
    strips = []
    for place, pieces in enumerate(found):
        top = (first + place) * _STRIP_PX
        strips.append(
            Set(
                tuple(
                    (x * _POINTS_PER_PX, (y - top) * _POINTS_PER_PX, b"\n".join(orders))
                    for x, y, orders in pieces
                )
            )
        )
    return strips
