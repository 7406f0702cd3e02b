"""What comes out of the printer? PDFs turned into dots by poppler and read by zxing-cpp.

Both are programs that the nursery's own code does not use: neither knows how the PDF was made.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import zlib
from contextlib import suppress
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image, ImageChops, ImageOps

from batches.labels import why_unavailable
from batches.labels.stocks import Stock

PRINTER = pytest.mark.skipif(
    bool(why_unavailable()) or not shutil.which("pdftoppm"),
    reason="PDFs need Pango and poppler-utils; one of them is not installed",
)
"""For tests that print and look at what came out."""
#: stocks on whose labels a passport finds no room beside the QR and the name
TOO_SMALL_FOR_PASSPORTS = frozenset({"a4-65"})


def run(*command: str | Path) -> str:
    """Run a program; it must succeed and must have nothing to complain about."""
    done = subprocess.run([str(part) for part in command], capture_output=True, check=True)
    assert done.stderr == b"", done.stderr.decode()
    return done.stdout.decode()


def pages(pdf: Path, *, dpi: int) -> list[Image.Image]:
    """Return each page in pure black and white, as a thermal head or a laser prints it."""
    stem = pdf.with_suffix(f".{dpi}")
    run("pdftoppm", "-r", str(dpi), "-mono", pdf, stem)
    files = sorted(pdf.parent.glob(f"{stem.name}-*.pbm"))
    images = []
    for file in files:
        with Image.open(file) as image:
            images.append(image.convert("L"))
        file.unlink()
    return images


def labels(page: Image.Image, stock: Stock, *, dpi: int) -> list[Image.Image]:
    """Return the pieces of a page that each label covers, in order of their places."""
    scale = dpi / 25.4
    cut = []
    for place in range(stock.labels_per_page):
        x, y = stock.corner(place)
        left, top = round(x * scale), round(y * scale)
        right = round((x + stock.label_width) * scale)
        bottom = round((y + stock.label_height) * scale)
        cut.append(page.crop((left, top, right, bottom)))
    return cut


def with_ink_gain(image: Image.Image) -> Image.Image:
    """Return the image with every dark edge grown by one dot on all sides."""
    grown = image
    for across in (-1, 0, 1):
        for down in (-1, 0, 1):
            grown = ImageChops.darker(grown, ImageChops.offset(image, across, down))
    return grown


def read_codes(image: Image.Image) -> list[str]:
    """Return the text of every QR in the image, on a white ground as paper has."""
    ground = ImageOps.expand(image, border=8, fill=255)
    only = zxingcpp.barcode_formats_from_str("QRCode")
    return [found.text for found in zxingcpp.read_barcodes(ground, formats=only)]


def is_blank(image: Image.Image) -> bool:
    """Return whether nothing at all is dark."""
    return ImageOps.invert(image).getbbox() is None


def ink_box(image: Image.Image) -> tuple[int, int, int, int]:
    """Return the box around everything dark; fails on a blank image."""
    box = ImageOps.invert(image).getbbox()
    assert box is not None
    return box


def unpacked(pdf: bytes) -> bytes:
    """Return the PDF with every stream inflated, so that nothing in it is hidden from a search."""
    parts = [pdf]
    for start in re.finditer(rb"stream\r?\n", pdf):
        with suppress(zlib.error):
            parts.append(zlib.decompressobj().decompress(pdf[start.end() :]))
    return b"\n".join(parts)


def words(pdf: Path, *options: str) -> str:
    """Return the text that a reader can select and search, white space made single spaces."""
    return " ".join(run("pdftotext", *options, pdf, "-").split())
