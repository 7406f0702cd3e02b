"""Is nothing that a file can hold answered by a fault of the program?

Whatever stands in a cell, a header or a whole file, the answer is a list of faults, or rows that
are stored and come out again.
"""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from batches.services.records_io import import_records
from batches.services.records_io.columns import FILES
from batches.services.records_io.faults import Faults
from batches.services.records_io.reading import read_sheet
from tests.services.records_io.folders import NOW, csv_text, small, write
from tests.services.records_io.test_guarding import HOSTILE

#: what people, spreadsheets and attackers put into cells of any kind
CELLS = [
    *HOSTILE[:20], "", "0", "-0", "1e308", "1e999", "-1", "9" * 20, "NaN", "inf", "½", "٣",
    "true", "yes", "2026-02-30", "9999-12-31", "0001-01-01", "2026-11-24T09:12:00+23:59",
    "2026-11-24T09:12:00-23:59:59", "2026-11-24T24:00:00Z", "1970-01-01T00:00:00+14:00",
    "2199-12-31T23:59:59.999999Z", "{0b6f3a0e-2f2b-4b0e-8d0a-0d2f0a1b2c3d}", "A.1", "A.2 A.1",
    "A.1 A.1", "B.1", "B1", "\x00", "\ud7ff", "\U0010ffff", "a" * 33, "a" * 5_000, "mould mould",
    "sown", "out",
    "00000000-0000-0000-0000-000000000000", "var.", "F", ".", "-", "_", "a:0", "a:1 b", ":1",
]  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(FILES), st.binary(max_size=300))
def test_any_bytes_are_a_sheet_or_faults(file, data: bytes):
    faults = Faults()
    read_sheet(file, data, day_first=False, faults=faults)


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(FILES), st.text(st.sampled_from("code,;\t\"\r\n\x00'= é"), max_size=80))
def test_any_text_under_a_right_header_is_a_sheet_or_faults(file, text: str):
    faults = Faults()
    sheet = read_sheet(
        file, (",".join(file.by_name) + "\n" + text).encode(), day_first=True, faults=faults
    )
    assert all(row.sound for row in sheet.rows) or faults


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(6))
def test_hostile_cells_anywhere_are_answered_in_words(tmp_path, seed):
    chance = random.Random(seed)
    for attempt in range(25):
        files = small()
        for _ in range(chance.randint(1, 4)):
            name = chance.choice(list(files))
            row = chance.choice(files[name])
            row[chance.choice(list(row))] = chance.choice(CELLS)
        folder = write(tmp_path / f"{attempt}", files)
        result = import_records(path=folder, now=NOW, by="", dry_run=True)
        for error in result.errors:
            assert error.message
            assert "\x00" not in str(error)
            assert "\n" not in str(error)
            assert len(str(error)) < 1_000


@pytest.mark.django_db
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.data())
def test_files_cut_anywhere_are_answered_in_words(tmp_path_factory, data):
    name = data.draw(st.sampled_from(sorted(small())))
    text = csv_text(small()[name]).encode()
    cut = data.draw(st.integers(0, len(text)))
    folder = write(tmp_path_factory.mktemp("cut"), small() | {name: ""})
    (folder / f"{name}.csv").write_bytes(text[:cut])
    result = import_records(path=folder, now=NOW, by="", dry_run=True)
    assert result.errors or cut > 0
