"""Do records go out and come in by the page, after a look and all or none?"""

from __future__ import annotations

import io
import os
import re
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile

from batches.core.errors import NotPossibleNow
from batches.models import Batch, House, PlantMovement, Tray
from batches.services.records_io import import_records, setting_aside
from tests.factories.days import NOW, TODAY
from tests.services.records_io.emptying import empty_nursery
from tests.services.records_io.folders import csv_text, small

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

HOUSES = "code,name\nMIST,Mist house\n"
WAITING_FILES = "imports"


@pytest.fixture(autouse=True)
def data(tmp_path, settings):
    settings.NURSERY_DATA = tmp_path / "data"
    settings.NURSERY_DATA.mkdir()
    return settings.NURSERY_DATA


def kept() -> list[Path]:
    return sorted((Path(settings.NURSERY_DATA) / WAITING_FILES).glob("*"))


def upload(name: str, data: str | bytes) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, data.encode() if isinstance(data, str) else data)


def early() -> dict[str, str]:
    """Return a nursery that fits the tests' present, as CSV texts."""
    files = small()
    for row in files["batches"] + files["trays"]:
        row["started_on"] = "2026-03-02"
    files["trays"] = [row for row in files["trays"] if row["code"] in {"A.1", "B.1"}]
    for name in ("checks", "movements", "orders", "germination_tests"):
        del files[name]
    return {f"{name}.csv": csv_text(rows) for name, rows in files.items()}


def send(client, *files: SimpleUploadedFile, **more: str):
    return client.post("/records/", {"chosen": list(files)} | more)


def test_the_page_offers_both_ways(office):
    page = office.get("/records/").content.decode()
    assert page.count("<h1>") == 1
    assert "Look into the files" in page
    assert "/records/export/" in page
    assert 'enctype="multipart/form-data"' in page
    assert re.search(r'<input type="file"[^>]*multiple', page)


def test_several_files_are_looked_into_and_stored_on_a_second_press(office):
    answer = send(office, *(upload(name, text) for name, text in early().items()))
    assert (answer.status_code, answer["Location"]) == (302, "/records/look/")
    assert not Tray.objects.exists()
    page = office.get("/records/look/").content.decode()
    assert "Every row can be stored. Nothing is stored yet." in page
    assert re.search(r"trays\.csv</th><td[^>]*>2</td>", page)
    assert "1 tray without a row in the stock book" in page
    assert office.post("/records/look/", {"do": "store"})["Location"] == "/records/"
    assert Tray.objects.count() == 2
    assert PlantMovement.objects.get().by == "Odile Marsh"
    assert kept() == []
    # 3 ferns, 2 origins, 2 batches, 2 trays, 2 readings; one lot, mixing, house, bench, treatment
    assert "Stored: 16 rows." in office.get("/records/").content.decode()


def test_a_second_press_stores_nothing_twice(office):
    send(office, upload("houses.csv", HOUSES))
    office.post("/records/look/", {"do": "store"})
    again = office.post("/records/look/", {"do": "store"}, follow=True)
    assert "No files wait to be stored" in again.content.decode()
    assert House.objects.count() == 1


def test_a_zip_is_taken_as_it_is(office):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as zipped:
        for name, text in early().items():
            zipped.writestr(f"books/{name}", text)
    assert send(office, upload("books.zip", packed.getvalue())).status_code == 302
    office.post("/records/look/", {"do": "store"})
    assert Tray.objects.count() == 2


def test_faults_are_shown_with_their_lines_and_nothing_is_kept(office):
    text = HOUSES + "-X,<script>alert(1)</script>\nMIST,other\n"
    answer = send(office, upload("houses.csv", text))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Nothing was stored: 2 places to mend" in page
    assert "houses.csv:3" in page
    assert "“-X” cannot be a code" in page
    assert "stands in line 2 already" in page
    assert "<script>alert" not in page
    assert kept() == []
    assert office.get("/records/look/").status_code == 302


def test_many_faults_are_cut_and_counted(office):
    text = "code,name\n" + "".join(f"-{n},x\n" for n in range(620))
    page = send(office, upload("houses.csv", text)).content.decode()
    assert page.count("cannot be a code") == 500
    assert "And 120 more" in page


@pytest.mark.parametrize(
    ("files", "expected"),
    [
        ([], "Choose a zip, or one or more CSV files."),
        ([("houses.csv", b"")], "This file is empty."),
        ([("notes.txt", b"hello")], "holds none of the files of the records"),
        ([("a.zip", b"PK\x03\x04broken")], "cannot be read as a zip file"),
        ([("a.zip", b"PK\x03\x04"), ("houses.csv", b"code\nA\n")], "send one zip alone"),
    ],
)
def test_what_cannot_be_opened_answers_422_in_words(office, files, expected):
    answer = send(office, *(upload(*file) for file in files))
    assert answer.status_code == 422
    assert expected in answer.content.decode()
    assert kept() == []


def test_two_files_of_one_name_are_not_silently_one(office):
    answer = send(office, upload("houses.csv", HOUSES), upload("houses.csv", "code\nA\n"))
    assert answer.status_code == 422
    assert "Two files bear the name houses.csv" in answer.content.decode()


def test_a_misspelt_file_is_named(office):
    answer = send(office, upload("house.csv", HOUSES))
    assert "Did you mean “houses.csv”?" in answer.content.decode()


def test_day_first_is_what_the_tick_says(office):
    files = early() | {"batches.csv": early()["batches.csv"].replace("2026-03-02", "02/03/2026")}
    uploads = [upload(name, text) for name, text in files.items()]
    assert send(office, *uploads).status_code == 422
    for one in uploads:
        one.seek(0)
    assert send(office, *uploads, day_first="on").status_code == 302
    office.post("/records/look/", {"do": "store"})
    assert {batch.started_on for batch in Batch.objects.all()} == {date(2026, 3, 2)}


def test_dropped_files_are_gone(office):
    send(office, upload("houses.csv", HOUSES))
    assert len(kept()) == 1
    answer = office.post("/records/look/", {"do": "drop"}, follow=True)
    assert "Nothing was stored" in answer.content.decode()
    assert kept() == []
    assert not House.objects.exists()


def test_new_files_take_the_place_of_those_that_waited(office):
    send(office, upload("houses.csv", HOUSES))
    send(office, upload("houses.csv", HOUSES))
    assert len(kept()) == 1


def test_what_somebody_stored_meanwhile_is_told_and_nothing_is_stored(office):
    send(office, upload("houses.csv", HOUSES))
    House.objects.create(code="MIST", name="other")
    answer = office.post("/records/look/", {"do": "store"})
    assert answer.status_code == 422
    assert "is stored with “other”" in answer.content.decode()


def test_files_that_were_cleared_away_are_told(office):
    send(office, upload("houses.csv", HOUSES))
    kept()[0].unlink()
    answer = office.post("/records/look/", {"do": "store"}, follow=True)
    assert "not kept any more" in answer.content.decode()


def test_what_lay_for_a_day_is_cleared_and_names_are_not_guessed(tmp_path):
    folder = tmp_path / "aside"
    old = setting_aside.set_aside([("houses.csv", b"code\nA\n")], folder=folder, now=NOW)
    moment = (NOW - timedelta(days=1, minutes=1)).timestamp()
    os.utime(folder / f"{old}.zip", (moment, moment))
    new = setting_aside.set_aside([("../houses.csv", b"code\nB\n")], folder=folder, now=NOW)
    assert [path.stem for path in folder.iterdir()] == [new]
    assert len(new) >= 32
    for token in (old, "../../secret-key", "", "x" * 200):
        with pytest.raises(NotPossibleNow):
            setting_aside.waiting(token, folder=folder)
    setting_aside.drop("../../secret-key", folder=folder)
    assert (
        import_records(
            path=setting_aside.waiting(new, folder=folder), now=NOW, by="", dry_run=True
        ).counts["houses.csv"]
        == 1
    )


def test_a_full_disk_is_told(tmp_path, monkeypatch):
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(setting_aside, "pack", full)
    with pytest.raises(NotPossibleNow, match="No space left on device"):
        setting_aside.set_aside([("houses.csv", b"code\n")], folder=tmp_path, now=NOW)


def test_an_export_comes_as_a_zip_that_can_be_taken_in(office):
    send(office, *(upload(name, text) for name, text in early().items()))
    office.post("/records/look/", {"do": "store"})
    answer = office.get("/records/export/")
    data = b"".join(answer.streaming_content)
    assert answer["Content-Type"] == "application/zip"
    assert f'filename="records-{TODAY.isoformat()}.zip"' in answer["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        assert packed.testzip() is None
        assert len(packed.namelist()) == 17
    people = office.session.session_key
    empty_nursery()
    assert people
    assert send(office, upload("records.zip", data)).status_code == 302
    office.post("/records/look/", {"do": "store"})
    assert Tray.objects.count() == 2


@pytest.mark.parametrize("path", ["/records/", "/records/look/", "/records/export/"])
def test_hands_and_strangers_do_not_see_them(hand, stranger, path):
    assert hand.get(path).status_code == 403
    assert stranger.get(path).status_code == 302


def test_an_export_is_not_made_by_a_post(office):
    assert office.post("/records/export/").status_code == 405
