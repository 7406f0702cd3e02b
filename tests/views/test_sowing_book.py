"""Does an old sowing book come in from the browser, step by step, all of it or none?"""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from batches.models import Tray

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

BOOK = b"Label;Species;Sown;Remarks\n12;Male fern;3.2.24;\n13;Driopteris filix-mas;5.2.24;late\n"


def _send(client, data: bytes = BOOK):
    file = SimpleUploadedFile("old book.csv", data)
    return client.post(reverse("batches:sowing-book"), {"book": file})


def _match(client, **more):
    matching = {"column_0": "code", "column_1": "fern", "column_2": "sown_on", "column_3": "note"}
    data = matching | {"day_first": "on", "end": "cleared"} | more
    return client.post(reverse("batches:sowing-book-columns"), data)


def test_a_book_is_matched_looked_at_and_stored(office):
    assert _send(office)["Location"] == reverse("batches:sowing-book-columns")
    words = office.get(reverse("batches:sowing-book-columns")).content.decode()
    assert "old book.csv holds 2 rows" in words
    assert '<option value="sown_on" selected>' in words
    assert "3.2.24 · 5.2.24" in words
    assert _match(office)["Location"] == reverse("batches:sowing-book-ferns")
    words = office.get(reverse("batches:sowing-book-ferns")).content.decode()
    assert "Driopteris filix-mas (1 row)" in words
    assert "Spelt alike: is it this one?" in words
    answers = {"fern_0": "list:Dryopteris filix-mas", "fern_1": "list:Dryopteris filix-mas"}
    answer = office.post(reverse("batches:sowing-book-ferns"), answers)
    assert answer["Location"] == reverse("batches:records-preview")
    assert not Tray.objects.exists()
    assert "Every row can be stored" in office.get(answer["Location"]).content.decode()
    office.post(reverse("batches:records-preview"), {"do": "store"})
    assert sorted(Tray.objects.values_list("code", flat=True)) == ["12", "13"]


def test_wrong_rows_are_named_and_nothing_is_stored_and_the_book_stays(office):
    _send(office, BOOK.replace(b"5.2.24", b"31.2.24"))
    _match(office)
    answers = {"fern_0": "list:Dryopteris filix-mas", "fern_1": "list:Dryopteris filix-mas"}
    answer = office.post(reverse("batches:sowing-book-ferns"), answers)
    assert answer.status_code == 422
    words = answer.content.decode()
    assert "old book.csv:3" in words
    assert "no day of the calendar" in words
    assert not Tray.objects.exists()
    assert office.get(reverse("batches:sowing-book-columns")).status_code == 200


@pytest.mark.parametrize("data", [b"PK\x03\x04", b"", b"one\ntwo\n"])
def test_what_is_no_book_is_refused_in_words(office, data):
    answer = _send(office, data)
    assert answer.status_code == 422
    assert "Nothing was stored" in answer.content.decode()


def test_a_matching_that_cannot_work_is_refused(office):
    _send(office)
    answer = _match(office, column_3="fern")
    assert answer.status_code == 422
    assert "cannot all be" in answer.content.decode()
    assert office.get(reverse("batches:sowing-book-ferns"))["Location"] == reverse(
        "batches:sowing-book-columns"
    )


def test_a_name_without_an_answer_has_to_be_settled(office):
    _send(office, BOOK.replace(b"Driopteris filix-mas", b"???"))
    _match(office)
    answer = office.post(reverse("batches:sowing-book-ferns"), {"fern_1": "out"})
    assert answer.status_code == 422
    assert "Say which fern it is" in answer.content.decode()
    answer = office.post(reverse("batches:sowing-book-ferns"), {"fern_0": "out", "fern_1": "out"})
    assert "Every row is left out" in answer.content.decode()


def test_without_a_book_every_step_leads_back_to_the_first(office):
    for name in ("sowing-book-columns", "sowing-book-ferns"):
        answer = office.get(reverse(f"batches:{name}"))
        assert answer["Location"] == reverse("batches:sowing-book")
