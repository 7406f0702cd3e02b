"""How does a PDF get written object by object, so that a long run never sits in memory whole?

ISO 32000-1, 7.5: header, numbered objects, cross-reference table, trailer. Nothing in here knows
what a label is.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from typing import BinaryIO


class PdfFile:
    """A PDF growing on an open binary file; `finish` must be called once, at the end."""

    def __init__(self, target: BinaryIO) -> None:
        self._target = target
        self._position = 0
        self._offsets: dict[int, int] = {}
        self._last = 0
        self._pages: list[int] = []
        self._tree = self.reserve()
        self._write(b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n")

    @property
    def page_count(self) -> int:
        """How many pages have been added."""
        return len(self._pages)

    def reserve(self) -> int:
        """Return a number for an object that is written later."""
        self._last += 1
        return self._last

    def add(self, body: bytes, *, number: int | None = None) -> int:
        """Write an object, under a reserved number if one is given; returns its number."""
        number = self.reserve() if number is None else number
        self._offsets[number] = self._position
        self._write(b"%d 0 obj\n%s\nendobj\n" % (number, body))
        return number

    def add_stream(self, content: bytes, extra: Mapping[str, bytes] | None = None) -> int:
        """Write a compressed stream object with `extra` entries in its dictionary."""
        packed = zlib.compress(content, 6)
        entries = {**(extra or {}), "Filter": b"/FlateDecode", "Length": b"%d" % len(packed)}
        return self.add(b"%s\nstream\n%s\nendstream" % (dictionary(entries), packed))

    def add_page(self, *, width: float, height: float, content: bytes, resources: bytes) -> None:
        """Add a page of width × height points."""
        stream = self.add_stream(content)
        page = {
            "Type": b"/Page",
            "Parent": reference(self._tree),
            "MediaBox": b"[0 0 %.3f %.3f]" % (width, height),
            "Resources": resources,
            "Contents": reference(stream),
        }
        self._pages.append(self.add(dictionary(page)))

    def finish(self, *, title: str, language: str) -> None:
        """Write the page tree, the catalogue and the table that makes it a file.

        ``language`` is a tag as “de” or “en-GB”, so that it can be read aloud.
        """
        kids = b" ".join(reference(page) for page in self._pages)
        tree = {"Type": b"/Pages", "Kids": b"[%s]" % kids, "Count": b"%d" % len(self._pages)}
        self.add(dictionary(tree), number=self._tree)
        # No fitting to the page: a label that is printed at 97 % misses its place on the sheet.
        preferences = dictionary({"PrintScaling": b"/None", "DisplayDocTitle": b"true"})
        catalogue = {
            "Type": b"/Catalog",
            "Pages": reference(self._tree),
            "Lang": b"(%s)" % language.encode("ascii"),
            "ViewerPreferences": preferences,
        }
        root = self.add(dictionary(catalogue))
        info = self.add(dictionary({"Title": text_string(title), "Producer": b"(Frondbook)"}))
        start = self._position
        size = self._last + 1
        self._write(b"xref\n0 %d\n0000000000 65535 f \n" % size)
        for number in range(1, size):
            self._write(b"%010d 00000 n \n" % self._offsets[number])
        trailer = {"Size": b"%d" % size, "Root": reference(root), "Info": reference(info)}
        self._write(b"trailer\n%s\nstartxref\n%d\n%%%%EOF\n" % (dictionary(trailer), start))

    def _write(self, data: bytes) -> None:
        self._target.write(data)
        self._position += len(data)


def dictionary(entries: Mapping[str, bytes]) -> bytes:
    """Return a PDF dictionary; names without their slash, values already written as PDF."""
    return b"<<%s>>" % b" ".join(b"/%s %s" % (key.encode(), entries[key]) for key in entries)


def reference(number: int) -> bytes:
    """Return a reference to an object."""
    return b"%d 0 R" % number


def text_string(text: str) -> bytes:
    """Return a text of any script as a PDF string."""
    return b"<%s>" % (b"\xfe\xff" + text.encode("utf-16-be")).hex().encode()
