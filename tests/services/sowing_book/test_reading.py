"""Is the table read whatever a spreadsheet program made of it, and refused in plain words?"""

from __future__ import annotations

import pytest

from batches.services.sowing_book.reading import NoBook, read_book

TABLE = "Nr;Fern;Sown\n12;Male fern;3.2.24\n;;\n13;Hart's-tongue;5.2.24\n"


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
def test_any_separator_and_encoding_gives_the_same_table(separator: str, encoding: str) -> None:
    text = TABLE.replace(";", separator).replace("Male fern", "Mâle fern")
    book = read_book(text.encode(encoding))
    assert book.headers == ("Nr", "Fern", "Sown")
    assert [(row.line, row.cells) for row in book.rows] == [
        (2, ("12", "Mâle fern", "3.2.24")),
        (4, ("13", "Hart's-tongue", "5.2.24")),
    ]
    assert book.samples(1) == ("Mâle fern", "Hart's-tongue")


def test_a_sep_line_quoted_breaks_and_ragged_rows_are_met() -> None:
    book = read_book(b'sep=;\r\nNr;Note;\r\n1;"two\r\nlines";extra\r\n2\r\n')
    assert book.headers == ("Nr", "Note", "column 3")
    assert [(row.line, row.cells) for row in book.rows] == [
        (3, ("1", "two lines", "extra")),
        (5, ("2", "", "")),
    ]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"PK\x03\x04...", "not CSV"),
        (b"\xd0\xcf\x11\xe0....", "older spreadsheet"),
        (b"%PDF-1.7", "a PDF"),
        (b"", "no rows"),
        (b"Nr;Fern\n", "no rows"),
        (b"just\none\ncolumn\n", "one column alone"),
        (b'Nr;Fern\n1;"never closed\n', "line 2 a quotation mark"),
        (b"Nr;F\xc3\xa4rn\n1;\xff\xc3\xa4\n", "damaged"),
    ],
)
def test_what_is_no_table_is_refused_and_says_that_nothing_was_stored(
    data: bytes, words: str
) -> None:
    with pytest.raises(NoBook, match="Nothing was stored") as refused:
        read_book(data)
    assert words in refused.value.message
