"""Is a change there together with its note, or neither of them?"""

from __future__ import annotations

import ast
import io
import json
import tempfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from batches.management import nursery_command
from batches.management.commands import import_records
from batches.models import ChangeNote, Person
from batches.services import bench_people, people
from batches.services.calendars import make_address
from batches.views import noting
from tests.factories import NOW, BenchFactory, HouseFactory, OrderFactory, TrayFactory
from tests.faults.test_failing_steps import everything

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

#: these change no row of their own: what is noted was done outside the database, or came to nothing
NOTED_ALONE = {
    "sign-in refused", "strike-out refused", "records exported", "copy asked for", "copy made"
}  # fmt: skip
FOLDERS = ("batches/views", "batches/management/commands")


def calls_outside_a_transaction(tree: ast.AST, *, inside: bool = False) -> Iterator[str]:
    """Yield what is noted by calls that no `transaction.atomic` goes round, wherever they stand."""
    for child in ast.iter_child_nodes(tree):
        within = inside
        if isinstance(child, ast.With):
            within = inside or "transaction.atomic()" in [
                ast.unparse(item.context_expr) for item in child.items
            ]
        if isinstance(child, ast.FunctionDef):
            within = "transaction.atomic" in [ast.unparse(one) for one in child.decorator_list]
        if isinstance(child, ast.keyword) and child.arg == "note_stored":
            within = True  # called by the import in its own transaction
        if isinstance(child, ast.Call) and not within:
            name = ast.unparse(child.func)
            words = child.args[1:2] if name == "note" else child.args[:1]
            if name in {"note", "noted"} and isinstance(words[0], ast.Constant):
                yield str(words[0].value)
        yield from calls_outside_a_transaction(child, inside=within)


def test_every_note_is_written_in_the_transaction_of_its_change() -> None:
    alone: set[str] = set()
    for folder in FOLDERS:
        for file in sorted(Path(folder).glob("*.py")):
            alone |= set(calls_outside_a_transaction(ast.parse(file.read_text(encoding="utf-8"))))
    assert alone == NOTED_ALONE


def bare(code: str) -> list[str]:
    return list(calls_outside_a_transaction(ast.parse(code)))


def test_the_rule_sees_a_note_outside_a_transaction() -> None:
    assert bare("def deed():\n    store()\n    note(request, 'stored')") == ["stored"]
    assert bare("def deed():\n    with transaction.atomic():\n        note(r, 'stored')") == []
    assert bare("def deed():\n    with open(f):\n        noted('stored')") == ["stored"]
    assert bare("@transaction.atomic\ndef deed():\n    note(r, 'stored')") == []


Deed = Callable[[Client], object]


def waiting_file() -> SimpleUploadedFile:
    item = {"id": str(uuid.uuid4()), "device_seq": 1, "kind": "check", "tray": "T0001",
            "by": "Wilf", "occurred_at": NOW.isoformat()}  # fmt: skip
    return SimpleUploadedFile("waiting.json", json.dumps({"items": [item]}).encode())


def badge_of(name: str = "Wilf Asher") -> str:
    return reverse("batches:person-badge", args=[Person.objects.get(name=name).pk])


def sign_in_by_link(_: Client) -> object:
    person = Person.objects.get(name="Wilf Asher")
    link = people.make_signin_link(person=person, now=NOW)
    before.append(everything())  # the link itself was made before
    return Client(raise_request_exception=False).post(f"/sign-in/{link.secret}/")


def import_a_house(_: Client) -> object:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "houses.csv").write_text("code,name\nMIST,Mist house\n", encoding="utf-8")
        return call_command("import_records", folder, stdout=io.StringIO())


#: what was there before a deed, the last one counts
before: list[dict[str, list[dict[str, Any]]]] = []

BENCH = {"name": "New name", "rows": 3, "columns": 4, "house": "H7", "walk": "first"}
DEEDS: dict[str, Deed] = {
    "order closed": lambda manager: manager.post("/orders/OPEN/close/"),
    "order opened again": lambda manager: manager.post("/orders/OVER/close/", {"deed": "open"}),
    "PIN taken away": lambda manager: manager.post(badge_of(), {"what": "no-pin"}),
    "badge made void": lambda manager: manager.post(badge_of(), {"what": "no-badge"}),
    "badge made": lambda manager: manager.post(badge_of(), {"what": "badge"}),
    "PIN set": lambda manager: manager.post(badge_of(), {"what": "pin", "pin": "719305"}),
    "calendar address stopped": lambda manager: manager.post("/my-calendar/", {"do": "stop"}),
    "calendar address made": lambda manager: manager.post("/my-calendar/"),
    "password chosen": lambda manager: manager.post(
        "/my-password/", {"new": "four ferns in a frame"}
    ),
    "bench changed": lambda manager: manager.post("/benches/B77/change/", BENCH),
    "saved file taken in": lambda manager: manager.post("/tablets/file/", {"file": waiting_file()}),
    "signed in": sign_in_by_link,
    "records imported": import_a_house,
    "tablet code made": lambda _: call_command("enrol_tablet", "Mist", stdout=io.StringIO()),
    "sign-in link made": lambda _: call_command(
        "signin_link", "Ines Brake", role="office", stdout=io.StringIO()
    ),
}


@pytest.fixture
def nursery(manager: Client, manager_person: Person, monkeypatch: pytest.MonkeyPatch) -> Client:
    """The manager, and what the deeds are done to."""
    # A second database, which a test within a transaction may not open.
    monkeypatch.setattr(import_records, "copy_before_import", lambda **_: None)
    OrderFactory(code="OPEN")
    OrderFactory(code="OVER", closed_on=NOW.date())
    BenchFactory(code="B77", house=HouseFactory(code="H7"))
    TrayFactory(counted=60, code="T0001")
    wilf = people.person_in_role(name="Wilf Asher", role="hand")
    bench_people.set_pin(person=wilf, pin="604182")
    bench_people.make_badge(person=wilf)
    make_address(person=manager_person, now=NOW)
    manager.raise_request_exception = False
    return manager


class NoNote(Exception):
    """The note could not be written."""


@pytest.mark.parametrize("what", sorted(DEEDS))
def test_a_change_whose_note_fails_is_not_made_and_one_that_is_made_is_noted(
    what: str, nursery: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(**_: object) -> None:
        raise NoNote

    before.append(everything())
    with monkeypatch.context() as failing:
        failing.setattr(noting, "note_change", fail)
        failing.setattr(nursery_command, "note_change", fail)
        with suppress(NoNote):
            answer = DEEDS[what](nursery)
            assert getattr(answer, "status_code", 0) == 500
    assert everything() == before[-1]
    DEEDS[what](nursery)
    (noted,) = ChangeNote.objects.all()
    assert noted.what == what
    assert everything() != before[-1]
