"""Is the file that grows object by object a PDF that others can read?"""

from __future__ import annotations

import io
import re
import zlib
from pathlib import Path

import pytest

from batches.labels.pdf_file import PdfFile, dictionary, reference, text_string
from tests.labels.paper import PRINTER, run


def written(pages: int = 2) -> bytes:
    target = io.BytesIO()
    pdf = PdfFile(target)
    form = pdf.add_stream(b"0 0 10 10 re f", {"Type": b"/XObject", "Subtype": b"/Form"})
    later = pdf.reserve()
    for _ in range(pages):
        resources = dictionary({"XObject": dictionary({"L1": reference(form)})})
        pdf.add_page(width=100, height=50, content=b"/L1 Do", resources=resources)
    pdf.add(b"<</Late true>>", number=later)
    pdf.finish(title="Étiquettes", language="fr")
    return target.getvalue()


def test_the_table_leads_to_every_object() -> None:
    # ISO 32000-1, 7.5.4: twenty bytes an entry, the offset of the object's first byte.
    data = written()
    told = re.search(rb"startxref\n(\d+)\n%%EOF\n$", data)
    assert told
    start = int(told[1])
    assert data[start:].startswith(b"xref\n0 ")
    table = data[start:].split(b"\n", 2)[2]
    count = int(data[start:].split()[2])
    for number in range(1, count):
        entry = table[number * 20 : number * 20 + 20]
        assert entry.endswith(b" 00000 n \n")
        assert data[int(entry[:10]) :].startswith(b"%d 0 obj\n" % number)


def test_streams_are_as_long_as_they_say() -> None:
    found = re.findall(rb"/Length (\d+)>>\nstream\n", written())
    data = written()
    for place in re.finditer(rb"/Length (\d+)>>\nstream\n", data):
        packed = data[place.end() : place.end() + int(place[1])]
        assert zlib.decompress(packed)
        assert data[place.end() + int(place[1]) :].startswith(b"\nendstream")
    assert len(found) == 3


def test_a_reserved_object_that_was_never_written_is_noticed() -> None:
    pdf = PdfFile(io.BytesIO())
    pdf.reserve()
    with pytest.raises(KeyError):
        pdf.finish(title="", language="de")


@PRINTER
def test_poppler_reads_it_without_complaint(tmp_path: Path) -> None:
    file = tmp_path / "two.pdf"
    file.write_bytes(written(pages=2))
    told = run("pdfinfo", file)
    assert re.search(r"Title: +Étiquettes", told)
    assert re.search(r"Pages: +2", told)
    assert re.search(r"Page size: +100 x 50 pts", told)


def test_titles_of_any_script_are_written() -> None:
    assert text_string("A") == b"<feff0041>"
