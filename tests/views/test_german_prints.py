"""Is no English word left on what is printed, in the weekly note, an old sowing book and faults?"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import RequestFactory
from django.urls import reverse
from django.utils import translation

from batches.labels import STOCKS, LabelRefused, LabelsUnavailable, check_stock
from batches.models import Person, PlannedSowing, Tray, Treatment
from batches.services.language import said
from batches.services.own_settings import set_own
from batches.views import pdf_file, register_pdf
from batches.views.errors import went_wrong
from batches.views.no_room import no_room
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    OrderFactory,
    PlantMovementFactory,
    SporeLotFactory,
    StageTransitionFactory,
    TaxonFactory,
    TrayFactory,
)
from tests.labels.paper import PRINTER, run, unpacked, words
from tests.views.test_german_office import english

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def german(manager, manager_person, monkeypatch):
    """A manager who reads German; what would become a PDF is answered as the page it is made of."""
    Person.objects.filter(pk=manager_person.pk).update(language="de")
    for module in (pdf_file, register_pdf):
        monkeypatch.setattr(module, "html_to_pdf", lambda html, **_: html.encode())
    return manager


@pytest.fixture
def tray() -> Tray:
    """One ready tray in a nursery with something for every print."""
    fern = TaxonFactory(common_name="Wurmfarn")
    bench = BenchFactory(name="Tisch 1", rows=3, columns=4, house__name="Haus 1")
    late: Tray = TrayFactory(
        bench=bench, row=1, column=1, batch__taxon=fern, container="Schale", counted=40,
        unit="patches", look_due_on=TODAY - timedelta(days=3), due_on=TODAY - timedelta(days=3),
        last_signs="mould", isolated=True,
    )  # fmt: skip
    lot = SporeLotFactory(taxon=fern, sow_by=TODAY + timedelta(days=9))
    ready: Tray = TrayFactory(
        carrier=True, counted=18, stage="ready", batch__taxon=fern, batch__spore_lot=lot,
        container="Palette", bench=bench,
    )  # fmt: skip
    TrayFactory(
        carrier=True, counted=30, stage="potted_up", batch__taxon=fern, pot_size="9 cm",
        expected_on=TODAY + timedelta(days=9),
    )  # fmt: skip
    order = OrderFactory(
        taxon=fern, quantity=60, wanted_on=TODAY + timedelta(days=2), customer="Marl-Garten"
    )
    PlantMovementFactory(
        tray=ready, kind="dispatch", quantity=5, on=TODAY, recipient="Marl-Garten", order=order
    )
    PlantMovementFactory(tray=late, kind="loss", quantity=9, on=TODAY, cause="mould")
    StageTransitionFactory(tray=late, to_stage="first_frond", seen_on=TODAY)
    for days in (0, 9):
        PlannedSowing.objects.create(
            taxon=fern, trays=4, sow_on=TODAY + timedelta(days=days - 3), planned_at=NOW,
            planned_by="Greta Lunn",
        )  # fmt: skip
    Treatment.objects.create(
        done_at=NOW - timedelta(hours=2), product="Seife", place_or_trays=bench.code,
        operator="Greta Lunn", recorded_at=NOW, reentry_hours=12, said_before="Wasser",
    )  # fmt: skip
    return ready


def test_no_english_word_is_left_on_what_is_printed(german, tray):
    days = {"from": (TODAY - timedelta(days=9)).isoformat(), "to": TODAY.isoformat()}
    prints = [
        (name, german.get(reverse(f"batches:{name}", args=args), query))
        for name, args, query in (
            ("morning-list", (), {}), ("round-sheet", (), {}), ("sowing-list", (), {}),
            ("batch-card", (tray.batch.code,), {}), ("weekly-print", (), {}),
            ("treatments-print", (), days), ("treatments-print", (), {}),
            ("treatments-pdf", (), days), ("treatments-pdf", (), {}),
            ("dispatches-print", (), {}), ("dispatches-print", (), days),
            ("availability-print", (), {}), ("passports-print", (), {}), ("restore-card", (), {}),
            ("trace-print", (tray.code,), {}), ("trace-print", (tray.batch.spore_lot.code,), {}),
            ("weekly-text", (), {}),
        )
    ]  # fmt: skip
    # What is typed into a terminal, and what that answers, is English.
    typed = re.compile(r"^(install make|make install)$|is whole")
    left = {(name, text) for name, answer in prints for text in english(answer)}
    assert {(name, text) for name, text in left if not typed.search(text)} == set()
    for name, answer in prints:
        assert '<html lang="de">' in answer.content.decode() or name == "weekly-text", name


def test_a_print_names_the_language_of_who_reads_english(office, monkeypatch):
    monkeypatch.setattr(pdf_file, "html_to_pdf", lambda html, **_: html.encode())
    for name in ("morning-list", "sowing-list"):
        answer = office.get(reverse(f"batches:{name}")).content.decode()
        assert '<html lang="en-GB">' in answer


def test_no_english_word_is_left_in_the_weekly_note_or_where_nothing_is(german, tray):
    left: dict[str, list[str]] = {}
    for week in ("", "2026-W12", "jetzt"):
        answer = german.get(reverse("batches:weekly-note"), {"week": week}, follow=True)
        left |= {week: texts} if (texts := english(answer)) else {}
    answer = german.get(reverse("batches:today"))
    assert "noch zu liefern an Marl-Garten" in answer.content.decode()
    left |= {"today": texts} if (texts := english(answer)) else {}
    assert left == {}


def test_no_english_word_is_left_in_the_first_steps(german):
    answer = german.get(reverse("batches:today"))
    assert "Die erste Partie" in answer.content.decode()
    assert english(answer) == []


BOOK = "Farn,Art,Gesät,Gesät am,Zahl\nWurmfarn,Polypodium vulgare,12.3.24,gestern,viele\n"


def test_no_english_word_is_left_when_an_old_sowing_book_is_brought_in(german, tray):
    page, columns, ferns = (
        reverse(f"batches:{name}")
        for name in ("sowing-book", "sowing-book-columns", "sowing-book-ferns")
    )
    answers = [german.get(page), german.get(columns, follow=True)]
    for data in (b"", b"PK\x03\x04x", b"%PDF-1.7", b"Farn\nx\n", b"Farn,Tag\n", b'a,b\n"x"y,1\n',
                 ("a," * 70 + "\nx,y\n").encode()):  # fmt: skip
        file = SimpleUploadedFile("Buch.csv", data)
        answers.append(german.post(page, {"book": file}, follow=True))
    answers.append(german.post(page, {"book": SimpleUploadedFile("Buch.csv", BOOK.encode())}))
    answers.append(german.get(columns))
    matched = {"column_1": "fern", "column_2": "sown_on"}
    for address, fields in (
        (columns, {}),
        (columns, matched | {"column_0": "fern", "end": "cleared"}),
        (columns, matched | {"column_4": "trays", "column_3": "ended_on", "end": "cleared"}),
        (ferns, {"fern_0": ""}),
        (ferns, {"fern_0": "out"}),
        (ferns, {"fern_0": "new"}),
    ):
        answers += [german.post(address, fields, follow=True)]
    left = [texts for answer in answers if (texts := english(answer))]
    assert left == []


def test_a_fault_and_a_full_disk_are_told_in_the_language_of_the_page():
    asked = RequestFactory().get("/")
    with translation.override("de"):
        for answer in (went_wrong(asked), no_room(asked, OSError(28, "voll"))):
            assert '<html lang="de">' in answer.content.decode()
            assert english(answer) == []
    assert "Something went wrong" in went_wrong(asked).content.decode()


def test_the_days_of_the_prints_are_written_as_german_writes_them(german, tray):
    answer = german.get(reverse("batches:morning-list")).content.decode()
    # ISO 8601: 10 June 2026 lies in week 24.
    assert date(2026, 6, 10) == TODAY
    assert "Mi 10. Juni 2026 (KW 24)" in answer


@PRINTER
def test_pdfs_name_their_language_and_labels_that_of_the_nursery(office, tray, tmp_path):
    set_own(name="language", value="de")
    wanted = {"codes": tray.code, "kind": "tray", "stock": "a4-24", "copies": "1", "start_at": "1"}
    german = {
        "labels": office.post(reverse("batches:labels"), wanted | {"do": "print"}),
        "test": office.get(reverse("batches:label-stock-test", args=["a4-24"])),
    }
    english_ones = {"calibration": reverse("batches:label-stock-calibration", args=["a4-24"])}
    english_ones["sowings"] = reverse("batches:sowing-list")
    # ISO 32000-1, 7.7.2 and 14.9.2: the catalogue's Lang is the language of the text.
    for name, answer in german.items():
        assert b"/Lang (de)" in unpacked(answer.content), name
    for name, address in english_ones.items():
        assert b"/Lang (en-" in unpacked(office.get(address).content), name
    file = tmp_path / "labels.pdf"
    file.write_bytes(german["test"].content)
    assert "Probedruck, keine Schale" in words(file)
    assert "ausgesät Mo 30. März 2026 (KW 14)" in words(file)
    assert "Etiketten, A4" in run("pdfinfo", file)
    Person.objects.update(language="de")
    file.write_bytes(office.get(english_ones["calibration"]).content)
    assert "Mit 100 % drucken." in words(file)


def test_no_english_word_is_left_where_labels_and_prints_are_refused(german, tray, monkeypatch):
    def busy(html: str, **_: object) -> bytes:
        raise LabelsUnavailable(
            "Another print is still being made. Nothing was printed; try again in a minute."
        )

    monkeypatch.setattr(pdf_file, "html_to_pdf", busy)
    answers = [german.get(reverse("batches:sowing-list"), follow=True)]
    labels = reverse("batches:labels")
    wanted = {"codes": tray.code, "kind": "tray", "stock": "a4-24", "copies": "1", "start_at": "1"}
    for changed in ({"copies": "9000"}, {"start_at": "99"}, {"do": "look", "start_at": "99"}):
        answers += [german.post(labels, wanted | changed)]
    bench = BenchFactory(code="T9", rows=2, columns=2)
    move = reverse("batches:tray-deed", args=[tray.code, "move"])
    for place in (
        {"row": "9", "column": "1"},
        {"row": "1", "column": "2"},
        {"row": "", "column": ""},
    ):
        answers += [german.post(move, {"bench": bench.code} | place, follow=True)]
    left = [texts for answer in answers if (texts := english(answer))]
    assert left == []


@pytest.mark.parametrize(
    "changed",
    [{"columns": 0}, {"gap_x": -1.0}, {"label_width": 2.0}, {"offset_x": 25.0}, {"columns": 9},
     {"rows": 30}],
)  # fmt: skip
def test_what_is_wrong_with_a_label_stock_is_said_in_german(changed):
    with pytest.raises(LabelRefused) as refused:
        check_stock(replace(STOCKS["a4-24"], **changed))
    words = said(refused.value.message, language="de")
    assert words.startswith("Das Etikettenpapier „")
    assert not re.search(r"\b(the|its|and|of|need|needs|is|check|least)\b", words)
