"""Is every habit of a spreadsheet met, and everything else refused in words?"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from batches.models import House, Taxon, Tray, TrayCheck
from tests.services.records_io.folders import LOOKS, csv_text, small

pytestmark = pytest.mark.django_db

HOUSES = "code,name\nMIST,Mist house\nFRAME,“Lower” frame – très froid\n"


def words(result) -> list[str]:
    return [str(error) for error in result.errors]


@pytest.mark.parametrize(
    "data",
    [
        HOUSES.encode(),
        b"\xef\xbb\xbf" + HOUSES.encode(),
        HOUSES.encode("cp1252"),
        HOUSES.encode("utf-16"),
        b"\xfe\xff" + HOUSES.encode("utf-16-be"),
        HOUSES.replace(",", ";").encode(),
        HOUSES.replace(",", "\t").encode("utf-16"),
        b"sep=;\r\n" + HOUSES.replace(",", ";").encode(),
        HOUSES.replace("\n", "\r\n").encode(),
        HOUSES.replace("\n", "\r").encode(),
        HOUSES.replace("\n", "\r\n", 1).replace("house\n", "house\r").encode(),
        HOUSES.upper().replace("MIST HOUSE", "Mist house").split("\n")[0].encode()
        + b"\n" + HOUSES.split("\n", 1)[1].encode(),
        HOUSES.replace("code,name", '" Code ",\tNAME').encode(),
        HOUSES.replace("MIST,Mist house", "  MIST ,  Mist house\t").encode(),
        (HOUSES + "\n\n,\n , \n,,,\n").encode(),
        HOUSES.replace("\n", ",,\n").encode(),
        HOUSES.replace("code,name\n", "name,code\n").replace("MIST,Mist house", "Mist house,MIST")
        .replace("FRAME,“Lower” frame – très froid", "“Lower” frame – très froid,FRAME").encode(),
        HOUSES.rstrip("\n").encode(),
    ],
    ids=[
        "plain", "utf-8 mark", "cp1252", "utf-16", "utf-16 big endian", "semicolons",
        "tabs in utf-16", "sep line", "crlf", "cr", "mixed ends", "capital headers",
        "spaced headers", "spaced cells", "blank rows", "empty columns", "other order", "no end",
    ],
)  # fmt: skip
def test_habits_of_spreadsheets_are_met(take_in, data: bytes):
    assert words(take_in({"houses": data})) == []
    assert dict(House.objects.values_list("code", "name")) == {
        "MIST": "Mist house",
        "FRAME": "“Lower” frame – très froid",
    }


@pytest.mark.parametrize(
    ("data", "expected"),
    [
        (b"", "houses.csv:1: file: the file is empty"),
        (b"\xef\xbb\xbf\r\n", "houses.csv:1: file: the file is empty"),
        (HOUSES.encode("utf-16-le"), "houses.csv:1: file: every other byte is NUL"),
        (b"\xff\xfea", "houses.csv:1: file: the file begins like UTF-16"),
        ("code,name\nA,é\nB,".encode() + b"\xe9\n", "file: the file is UTF-8, but not at line 3"),
        (b"code,name\nA,\x81\n", "houses.csv:1: file: line 2 is neither UTF-8 nor"),
        ("code,name\nA,nul\x00\n", "houses.csv:2: name: “nul␀” holds a NUL byte"),
        ("code,name\n\x00A,x\n", "houses.csv:2: code: “␀A” cannot be a code"),
        ("name\nA\n", "houses.csv:1: code: this column is missing: the house's code"),
        ("code,name,name\nA,b,c\n", "houses.csv:1: name: this column stands here twice"),
        ("code,naem\nA,b\n", "houses.csv:1: naem: there is no such column. Did you mean “name”?"),
        ("code,colour\nA,b\n", "1: colour: there is no such column. The columns are code"),
        ("code,name\nA,b,c\n", "houses.csv:2: row: “c” stands under no column"),
        ("code,,name\nA,b,c\n", "houses.csv:2: row: “b” stands under no column"),
        ('code,name\nA,b\nB,"open\nC,d\n', "houses.csv:3: row: a quotation mark is opened here"),
        ('code,name\nA,"b"c\n', "houses.csv:2: row: a quotation mark is opened here"),
        ("code,name\nA," + "x" * 1_048_576 + "\n", "2: name: 1,048,576 characters; at most 80"),
        ("code,name\n,x\n", "houses.csv:2: code: the cell is empty: the house's code"),
        ("code,name\n-A,x\n", "houses.csv:2: code: “-A” cannot be a code: 1 to 32"),
        ("code,name\n" + "A" * 33 + ",x\n", "cannot be a code"),
        ("code,name\nA,x\nA,y\n", "houses.csv:3: code: “A” stands in line 2 already"),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_refused_in_words(take_in, data, expected: str):
    errors = words(take_in({"houses": data}))
    assert any(expected in error for error in errors), errors
    assert not House.objects.exists()


def test_a_row_of_several_lines_and_blank_lines_before_it_are_counted(take_in):
    text = 'code,name\n\n"A","two\r\nlines"\n\nB!,x\n'
    (error,) = words(take_in({"houses": text}))
    assert error.startswith("houses.csv:6: code: “B!” cannot be a code: 1 to 32 of A-Z a-z 0-9")


def test_a_short_row_is_filled_up_with_unknown(take_in):
    # Spreadsheets leave trailing separators away.
    assert words(take_in({"houses": "code,name\nA\nB,x\n"})) == []
    assert House.objects.get(code="A").name == ""


def one_look(**cells: str) -> dict[str, Any]:
    files = small()
    files["checks"] = [files["checks"][0] | cells]
    return files


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("2026-01-19 09:10", "has no offset from universal time: write 2026-01-19T09:10:00+00:00"),
        ("2026-07-19T09:10:00", "write 2026-07-19T09:10:00+01:00"),
        ("2026-01-19", "is not a date with a time and an offset"),
        ("19/01/2026 09:10Z", "does not begin with the year: write 2026-01-19"),
        ("03/04/2026 09:10Z", "may be 2026-04-03 or 2026-03-04"),
        ("2026-02-30T09:10:00Z", "is no day of the calendar or no time of day"),
        ("2026-01-19T25:10:00Z", "is no day of the calendar or no time of day"),
        ("2026-01-19T09:10:00+99:00", "is no day of the calendar or no time of day"),
        ("noon", "is not a date with a time and an offset"),
        ("1901-01-19T09:10:00Z", "lies outside 1970 to 2199"),
    ],
)
def test_a_time_that_is_not_one_is_refused(take_in, cell: str, expected: str):
    (error,) = words(take_in(one_look(seen_at=cell)))
    assert error.startswith("checks.csv:2: seen_at: ")
    assert expected in error


@pytest.mark.parametrize(
    "cell", ["2026-01-19T09:10:00Z", "2026-01-19 10:10:00+01:00", "2026-01-19T09:10+0000",
             "2026-01-19T09:10:00.000000+00:00"]
)  # fmt: skip
def test_ways_to_write_one_moment(take_in, cell: str):
    assert words(take_in(one_look(seen_at=cell))) == []
    assert TrayCheck.objects.get(id=LOOKS[0]).seen_at.isoformat() == "2026-01-19T09:10:00+00:00"


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("19/01/2026", "does not begin with the year: write 2026-01-19, or import with day-first"),
        ("01/19/2026", "does not begin with the year: write 2026-01-19"),
        ("03.04.2026", "may be 2026-04-03 or 2026-03-04"),
        ("2026-13-01", "is no day of the calendar"),
        ("24/11/26", "is not a date: write it like 2026-11-24"),
        ("46351", "is not a date"),
        ("0026-11-24", "lies outside 1800 to 2199"),
        ("٢٠٢٦-٠١-٠٥", "is not a date"),
    ],
)
def test_a_date_that_is_not_one_is_refused(take_in, cell: str, expected: str):
    files = small()
    files["trays"][0]["label_printed_on"] = cell
    errors = words(take_in(files))
    assert len(errors) == 1
    assert errors[0].startswith("trays.csv:2: label_printed_on: ")
    assert expected in errors[0]


def test_day_first_dates_are_read_where_that_was_said(take_in):
    files = small()
    files["trays"][0] |= {"label_printed_on": "03/04/2026", "started_on": "5.1.2026"}
    files["checks"][0]["seen_at"] = "19/01/2026 9:10+00:00"
    assert words(take_in(files, day_first=True)) == []
    assert Tray.objects.get(code="A.1").label_printed_on == date(2026, 4, 3)
    assert TrayCheck.objects.get(id=LOOKS[0]).seen_at.isoformat() == "2026-01-19T09:10:00+00:00"


def test_a_month_first_date_under_day_first_is_refused(take_in):
    files = small()
    files["trays"][0]["label_printed_on"] = "01/19/2026"
    assert "is no day of the calendar" in words(take_in(files, day_first=True))[0]


def test_a_date_that_a_spreadsheet_gave_midnight_is_a_date(take_in):
    files = small()
    files["trays"][0]["label_printed_on"] = "2026-04-03 00:00:00"
    assert words(take_in(files)) == []


@pytest.mark.parametrize(
    ("name", "column", "cell", "expected"),
    [
        ("spore_lots", "mass_mg", "12,5", "has a decimal comma: write 12.5 (or 125, if"),
        ("spore_lots", "mass_mg", "12.5 mg", "is not a number: digits alone"),
        ("spore_lots", "mass_mg", "-1", "-1 is too low: 0 or more"),
        ("spore_lots", "mass_mg", "nan", "is not a number"),
        ("spore_lots", "mass_mg", "1e400", "is too large a number"),
        ("spore_lots", "mass_mg", "1_000", "is not a number"),
        ("trays", "cells", "84.5", "is not a whole number"),
        ("trays", "cells", "0", "0 is too low: 1 or more"),
        ("trays", "cells", "40000", "40000 is too high: 32767 or less"),
        ("trays", "cells", "٨٤", "is not a whole number"),
        ("trays", "isolated", "no", "only yes or nothing may"),
        ("trays", "unit", "plugs", "is not a word of this column. The words are plants, patches"),
        ("trays", "cover", "closd", "Did you mean “closed”?"),
        ("checks", "signs", "mould mildew", "“mildew” is not a word of this column"),
        ("checks", "id", "17", "“17” is not an id (a UUID"),
    ],
)
def test_a_cell_that_does_not_fit_its_column_is_refused(take_in, name, column, cell, expected):
    files = small()
    files[name][0][column] = cell
    errors = words(take_in(files))
    assert any(
        error.startswith(f"{name}.csv:2: {column}: ") and expected in error for error in errors
    ), errors


@pytest.mark.parametrize("cell", ["84", "84.0", "+84", " 84 "])
def test_ways_to_write_one_whole_number(take_in, cell: str):
    files = small()
    files["trays"][0]["cells"] = cell
    assert words(take_in(files)) == []
    assert Tray.objects.get(code="A.1").cells == 84


def test_words_may_be_in_capitals(take_in):
    files = small()
    files["trays"][2] |= {"isolated": "Yes", "cover": "Closed"}
    assert words(take_in(files)) == []
    assert Tray.objects.get(code="B.1").isolated


def test_names_of_ferns_are_set_right_as_a_form_would(take_in):
    rows = [{"code": "X", "genus": "dryopteris", "species": "x remota", "spore_kind": "not_green",
             "infra_rank": "var.", "infra_epithet": "Alta", "cultivar": "'Crispa'"}]  # fmt: skip
    assert words(take_in({"taxa": csv_text(rows)})) == []
    fern = Taxon.objects.get()
    assert str(fern) == "Dryopteris ×remota var. alta 'Crispa'"
    assert words(take_in({"taxa": csv_text(rows)})) == []


def test_a_descriptor_of_a_later_format_is_refused_and_a_broken_one(take_in):
    for text, expected in [
        ('{"version": "2.0"}', "datapackage.json:1: version: the records are of format “2.0”"),
        ("{", "datapackage.json:1: file: the file is not JSON"),
        ("[" * 100_000, "datapackage.json:1: file: the file is not JSON"),
    ]:
        (error,) = words(take_in({"houses": HOUSES, "datapackage.json": text}))
        assert error.startswith(expected)
    for text in ('{"version": "1.7"}', '{"name": "theirs"}', "[]"):
        assert words(take_in({"houses": HOUSES, "datapackage.json": text}, dry_run=True)) == []
