"""Does the chain of noted changes show whatever was done to it?"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterator
from datetime import UTC, timedelta
from typing import Any

import pytest
from django.db import DatabaseError, connection, transaction

from batches.models import ChangeNote, TrayCheck, guards
from batches.services.change_notes import chain_check, change_rows, note_change
from batches.services.strikes import strike_out
from tests.factories import NOW, TrayCheckFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def notes() -> list[ChangeNote]:
    """Five notes, each of another kind of content."""
    return [
        note_change(what="signed in", now=NOW, by="Greta Lunn", device="127.0.0.1"),
        note_change(what="settings changed", now=NOW, before={"hot_c": 3.0}, after={"hot_c": 4}),
        note_change(what="role given", now=NOW, about="Bryn Hale", why="“moved\x00 on”"),
        note_change(what="labels printed", now=NOW, device_at=NOW - timedelta(days=2)),
        note_change(what="copy made", now=NOW, about="frondbook-20260610-180000.zip"),
    ]


@pytest.fixture
def unguarded() -> Iterator[None]:
    """The database as somebody has it who opens the file with another program."""
    guards.drop_guards(connection)
    yield
    guards.create_guards(connection)


def naive_seals() -> list[str]:
    """Work the seals out from the bare columns, as somebody without this program would."""
    seals, previous = [], ""
    with connection.cursor() as cursor:
        rows: list[Any] = list(ChangeNote.objects.order_by("number").values())
        for note in rows:
            both = (note["at"], note["device_at"])
            moments = ["" if m is None else m.astimezone(UTC).isoformat() for m in both]
            words = [note[n] for n in ("by", "device", "what", "about", "before", "after", "why")]
            text = json.dumps([note["number"], *moments, *words, previous], ensure_ascii=False,
                              separators=(",", ":"))  # fmt: skip
            previous = hashlib.sha256(text.encode()).hexdigest()
            seals.append(previous)
        cursor.execute("SELECT count(*) FROM batches_changenote")
        assert cursor.fetchone() == (len(seals),)
    return seals


def test_an_untouched_chain_is_whole_and_its_seals_are_those_anybody_can_work_out(
    notes: list[ChangeNote],
) -> None:
    found = chain_check()
    assert (found.notes, found.faults) == (5, ())
    assert [note.hash for note in ChangeNote.objects.order_by("number")] == naive_seals()
    assert found.head == naive_seals()[-1]


def test_no_note_at_all_is_whole_too() -> None:
    assert chain_check().faults == ()
    assert chain_check().head == ""


@pytest.mark.parametrize(
    ("statement", "told"),
    [
        (
            "UPDATE batches_changenote SET by = 'Wilf' WHERE number = 3",
            "Note 3 was altered",
        ),
        ("UPDATE batches_changenote SET at = '2026-01-01' WHERE number = 1", "Note 1 was altered"),
        ("UPDATE batches_changenote SET after = '' WHERE number = 2", "Note 2 was altered"),
        ("DELETE FROM batches_changenote WHERE number = 4", "Note 4 is missing"),
        ("DELETE FROM batches_changenote WHERE number = 1", "Note 1 is missing"),
        ("UPDATE batches_changenote SET number = 9 WHERE number = 5", "Note 5 is missing"),
    ],
)
@pytest.mark.usefixtures("unguarded", "notes")
def test_what_was_altered_or_taken_out_is_told(statement: str, told: str) -> None:
    with connection.cursor() as cursor:
        cursor.execute(statement)
    assert told in chain_check().faults[0]


@pytest.mark.usefixtures("unguarded", "notes")
def test_a_note_sealed_anew_no_longer_is_what_the_next_one_follows() -> None:
    from batches.services.change_notes import hash_of

    note = ChangeNote.objects.get(number=2)
    note.after = "{}"
    note.hash = hash_of(note)
    note.save()
    assert chain_check().faults == ("Note 3 does not follow the one before it.",)


def test_the_database_refuses_to_alter_or_delete_a_note(notes: list[ChangeNote]) -> None:
    for deed in (
        lambda: ChangeNote.objects.filter(number=1).update(by="x"),
        lambda: ChangeNote.objects.filter(number=5).delete(),
    ):
        with pytest.raises(DatabaseError, match="only ever added"), transaction.atomic():
            deed()


def test_a_note_goes_with_the_deed_that_failed(notes: list[ChangeNote]) -> None:
    def fail() -> None:
        with transaction.atomic():
            note_change(what="never", now=NOW)
            raise ValueError

    with pytest.raises(ValueError):  # noqa: PT011 - raised three lines above
        fail()
    assert chain_check().notes == 5


def test_a_strike_out_is_noted_once() -> None:
    look = TrayCheckFactory(note="mistaken")
    for _ in range(2):
        strike_out(row=TrayCheck.objects.get(pk=look.pk), by="Bryn Hale", now=NOW)
    (note,) = ChangeNote.objects.all()
    assert (note.what, note.by, note.about) == ("look struck out", "Bryn Hale", look.tray.code)


def test_no_cell_of_the_file_is_run_by_a_spreadsheet() -> None:
    note_change(what="sign-in refused", now=NOW, about="=HYPERLINK(1)")
    _, row = change_rows()
    assert "'=HYPERLINK(1)" in row
    assert not [cell for cell in row if cell[:1] in {"=", "+", "-", "@"}]


def test_the_check_asks_as_often_for_five_notes_as_for_fifty(
    notes: list[ChangeNote], django_assert_max_num_queries: Callable[[int], Any]
) -> None:
    for number in range(45):
        note_change(what="signed in", now=NOW, about=str(number))
    with django_assert_max_num_queries(1):
        assert chain_check().notes == 50
