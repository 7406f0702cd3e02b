"""Does the old book go through the same import as all records, whole or not at all?"""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path

from batches.models import Batch, Bench, Taxon, Tray
from batches.services.records_io import ImportResult, import_records
from batches.services.sowing_book.building import Built, Choices, build_records
from batches.services.sowing_book.ferns import ferns_named
from batches.services.sowing_book.matching import guessed
from batches.services.sowing_book.reading import read_book
from tests.factories import BenchFactory, TaxonFactory

BOOK = """Label;Species;Sown;Bench;Trays;Alive;First green;Finished;Reason;Remarks
2024/17;Blechnum spicant;3.2.24;B1;;;10.3.24;;;sown late
18;Male fern;4.2.24;Lower frame;3;;;;;
19;Male fern;4.2.24;Lower frame;1;40;;;;=SUM(A1)
20;Osmunda regalis;5.6.24;;;12;;1.9.24;mould;
;Osmunda regalis;6.6.24;;;;;2.9.24;picked;
"""


def _built(text: str) -> Built:
    book = read_book(text.encode())
    answers = {
        one.words: one.answer or "new" for one in ferns_named([r.cells[1] for r in book.rows])
    }
    choices = Choices(day_first=True, ferns=answers)
    return build_records(book=book, name="old.csv", matching=guessed(book), choices=choices)


def _imported(built: Built, folder: Path, now: datetime) -> ImportResult:
    for name, data in built.files:
        (folder / name).write_bytes(data)
    return import_records(path=folder, now=now, by="Odile Marsh")


def test_a_book_becomes_records(db: None, now: datetime, tmp_path: Path) -> None:
    BenchFactory(code="B1")
    TaxonFactory(code="DRYFIL", genus="Dryopteris", species="filix-mas", common_name="male fern")
    built = _built(BOOK)
    assert built.faults == ()
    result = _imported(built, tmp_path, now)
    assert result.errors == ()
    assert sorted(Tray.objects.values_list("code", flat=True)) == [
        "18-1", "18-2", "18-3", "19", "20", "2024-17", "BOOK-6"
    ]  # fmt: skip
    hard = Tray.objects.get(code="2024-17")
    assert hard.batch.taxon.name.text == "Struthiopteris spicant"
    assert hard.batch.notes == "sown late; code in the old book: 2024/17"
    assert (hard.started_on, hard.bench) == (date(2024, 2, 3), Bench.objects.get(code="B1"))
    assert hard.stage == "gametophyte"
    counted = Tray.objects.get(code="19")
    assert (counted.alive, counted.batch.code) == (40, "19-B")
    assert counted.batch.notes == "=SUM(A1)"
    assert counted.bench == Bench.objects.get(name="Lower frame", house__code="BOOK")
    mouldy, picked = Tray.objects.get(code="20"), Tray.objects.get(code="BOOK-6")
    assert (mouldy.end, mouldy.end_cause) == ("discarded", "mould")
    assert (picked.end, picked.end_cause) == ("cleared", "")
    assert Taxon.objects.get(genus="Osmunda").spore_kind == "green"
    assert Batch.objects.count() == 5


def test_a_german_book_becomes_records(db: None, now: datetime, tmp_path: Path) -> None:
    BenchFactory(code="B1")
    built = _built(
        "Etikett;Farn;Gesät am;Tisch;Ende;Grund\n"
        "7;Dryopteris filix-mas;3. März 2024;B1;1.9.24;Schimmel\n"
    )
    assert built.faults == ()
    assert _imported(built, tmp_path, now).errors == ()
    tray = Tray.objects.get(code="7")
    assert (tray.started_on, tray.end_cause) == (date(2024, 3, 3), "mould")


def test_the_same_book_twice_stores_once(db: None, now: datetime, tmp_path: Path) -> None:
    assert _imported(_built(BOOK), tmp_path, now).errors == ()
    again = _imported(_built(BOOK), tmp_path, now)
    assert again.errors == ()
    assert sum(again.counts.values()) == 0


def test_faults_name_the_book_s_own_lines_and_columns(
    db: None, now: datetime, tmp_path: Path
) -> None:
    text = (
        "Label;Species;Sown;Trays\n1;Male fern;31.2.24;\n\n2;;1.3.24;\n3;Male fern;;many\n"
        "4;Male fern;1.3.24;900\n"
    )
    faults = [(one.file, one.line, one.column) for one in _built(text).faults]
    assert faults == [
        ("old.csv", 2, "Sown"), ("old.csv", 4, "Species"), ("old.csv", 5, "Sown"),
        ("old.csv", 6, "Trays"),
    ]  # fmt: skip

    # What only the import can know is led back to the book, too: a code that stands twice.
    built = _built("Label;Species;Sown\n7;Male fern;1.3.24\n7;Male fern;2.3.24\n")
    assert built.faults == ()
    errors = _imported(built, tmp_path, now).errors
    assert errors
    for error in errors:
        led_back = built.in_book(error, book="old.csv")
        assert (led_back.file, led_back.line, led_back.column) == ("old.csv", 3, "Label")
    assert not Tray.objects.exists()


def test_rows_of_a_fern_may_be_left_out_and_counted(db: None) -> None:
    book = read_book(BOOK.encode())
    answers = {one.words: "out" for one in ferns_named([r.cells[1] for r in book.rows])}
    built = build_records(
        book=book, name="old.csv", matching=guessed(book),
        choices=Choices(day_first=True, ferns=answers),
    )  # fmt: skip
    assert (built.files, built.faults, built.left_out) == ((), (), 5)
