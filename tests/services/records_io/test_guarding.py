"""Is no cell run by a spreadsheet, and every text read back exactly?"""

from __future__ import annotations

import csv
import io
import itertools

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from batches.models import Taxon, Tray, TrayCheck
from batches.services.records_io.guarding import guarded, unguarded
from batches.services.records_io.writing import csv_line
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import NOW, read_all, read_rows, small

#: OWASP, “CSV Injection”: first characters at which a cell is taken for a formula
RUN = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
HOSTILE = (
    '=HYPERLINK("http://example.invalid","x")', "+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "'=1",
    "''=1", "'", "''", "'x'", "' x'", "'=x '", "' ", "=x '", "<script>alert(1)</script>",
    "{{7*7}}", "{% load x %}", "a\r\nb\rc\nd", 'say "frond", then\n', "\u202eevil", "🌿" * 50,
    "\ufeffmark", "sep=;", " \N{NO-BREAK SPACE}x", "x" * 10_000, "yes", "2026-11-24", "1e5", "\x1f",
)  # fmt: skip
#: characters that a text column holds: everything but NUL (refused) and half surrogates
TEXT = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=40)


@given(TEXT)
def test_reading_undoes_writing_for_every_text(text: str):
    assert unguarded(guarded(text)) == text


@given(TEXT)
def test_no_cell_begins_like_a_formula_or_would_be_trimmed(text: str):
    cell = guarded(text)
    assert not cell.startswith(RUN)
    assert cell == cell.strip()


def test_every_text_of_up_to_six_awkward_characters_comes_back():
    for length in range(7):
        for letters in itertools.product("'= \tx", repeat=length):
            text = "".join(letters)
            assert unguarded(guarded(text)) == text


@pytest.mark.parametrize(
    "text", ["male fern", "'Crispa'", "'tis dry", "2 × 3", "a-b", "x = y", "5' bench"]
)
def test_plain_text_is_written_as_it_is(text: str):
    assert guarded(text) == text
    assert unguarded(f"  {text} ") == text


@given(st.lists(TEXT, min_size=2, max_size=5))
@example(["a\rb", "c"])
@example(["", ""])
def test_a_line_is_read_by_the_standard_library_as_it_was_written(cells: list[str]):
    # cross-implementation: Python's csv module
    line = csv_line(cells)
    assert list(csv.reader(io.StringIO(line, newline=""), strict=True)) == [cells]


@pytest.mark.django_db
def test_hostile_texts_make_the_round_trip_exactly(take_in, write_out):
    take_in(small())
    for number, text in enumerate(HOSTILE):
        Taxon.objects.create(
            code=f"H{number}", genus="Blechnum", spore_kind="green", notes=text,
            protection=text[:200],
        )  # fmt: skip
    TrayCheck.objects.create(
        tray=Tray.objects.get(code="A.1"), seen_at=NOW, recorded_at=NOW, by="-Bram",
        note="".join(HOSTILE),
    )  # fmt: skip
    first = read_all(write_out())
    empty_nursery()
    assert [str(e) for e in take_in(first).errors] == []
    stored = dict(Taxon.objects.filter(code__startswith="H").values_list("code", "notes"))
    assert stored == {f"H{number}": text for number, text in enumerate(HOSTILE)}
    assert TrayCheck.objects.get(by="-Bram").note == "".join(HOSTILE)
    folder = write_out()
    assert read_all(folder) == first
    for row in read_rows(folder, "taxa"):
        assert not row["notes"].startswith(RUN)
