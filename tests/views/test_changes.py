"""Does the manager see who changed what, and is each kind of change noted?"""

from __future__ import annotations

import csv
import io
import json

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from batches.models import ChangeNote, Device, Person, guards
from batches.services.change_notes import chain_check, note_change
from batches.services.people import make_signin_link
from tests.factories import NOW, HouseFactory, TaxonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def notes() -> list[tuple[str, ...]]:
    found = ChangeNote.objects.order_by("number").values_list("what", "by", "about")
    return [tuple(one) for one in found]


def test_a_setting_is_noted_with_what_it_was_and_only_when_it_changes(manager: Client) -> None:
    form = manager.get("/settings/").context["form"]
    values = {name: form[name].value() for name in form.fields}
    sent = {
        name: value for name, value in values.items() if value is not None and value is not False
    }
    manager.post("/settings/", sent)
    assert notes() == []
    answer = manager.post("/settings/", sent | {"nursery_name": "Hollowmere Ferns"})
    assert answer.status_code == 302, answer.context["form"].errors
    (note,) = ChangeNote.objects.all()
    assert (note.by, note.device, note.at) == ("Greta Lunn", "127.0.0.1", NOW)
    assert json.loads(note.before) == {"nursery_name": ""}
    assert json.loads(note.after) == {"nursery_name": "Hollowmere Ferns"}


def test_people_and_their_ways_in_are_noted_and_no_secret_is(
    manager: Client, manager_person: Person, stranger: Client
) -> None:
    manager.post("/people/", {"name": "Ines Brake", "role": "hand"})
    manager.post("/people/", {"name": "Ines Brake", "role": "office"})
    ines = Person.objects.get(name="Ines Brake")
    manager.post(f"/people/{ines.pk}/link/")
    link = make_signin_link(person=ines, now=NOW)
    stranger.post(f"/sign-in/{link.secret}/")
    stranger.post("/my-password/", {"new": "a shed full of moss"})
    stranger.post("/sign-out/")
    stranger.post("/sign-in/", {"name": "Ines Brake", "password": "a shed full of peat"})
    stranger.post("/sign-in/", {"name": "Ines Brake", "password": "a shed full of moss"})
    manager.post(f"/people/{ines.pk}/stop/")
    assert notes() == [
        ("person added", "Greta Lunn", "Ines Brake"),
        ("role given", "Greta Lunn", "Ines Brake"),
        ("sign-in link made", "Greta Lunn", "Ines Brake"),
        ("signed in", "Ines Brake", ""),
        ("password chosen", "Ines Brake", "Ines Brake"),
        ("signed out", "Ines Brake", ""),
        ("sign-in refused", "", "Ines Brake"),
        ("signed in", "Ines Brake", ""),
        ("person stopped", "Greta Lunn", "Ines Brake"),
    ]
    kept = json.dumps(list(ChangeNote.objects.values()), default=str)
    assert "moss" not in kept
    assert "peat" not in kept
    assert link.secret not in kept
    assert chain_check().faults == ()


def test_a_note_that_was_altered_beside_the_program_is_shown_as_it_stands(
    manager: Client,
) -> None:
    note_change(what="settings changed", now=NOW, before={"hot_c": 3}, after={"hot_c": 4})
    guards.drop_guards(connection)
    ChangeNote.objects.update(before="<b>no JSON</b>")
    guards.create_guards(connection)
    page = manager.get("/changes/")
    assert page.status_code == 200
    assert "&lt;b&gt;no JSON&lt;/b&gt;" in page.content.decode()
    assert "hot_c: 4" in page.content.decode()


def test_a_refused_deed_is_not_noted(manager: Client, manager_person: Person) -> None:
    manager.post(f"/people/{manager_person.pk}/stop/")  # the only manager
    assert notes() == []


def test_tablets_are_noted(manager: Client, tablet: Client) -> None:
    manager.post(f"/tablets/{Device.objects.get().pk}/revoke/")
    manager.post("/tablets/enrol/", {"name": "Fern house"})
    assert notes() == [
        ("tablet revoked", "Greta Lunn", "Mist house"),
        ("tablet code made", "Greta Lunn", "Fern house"),
    ]


def test_a_house_that_is_noted_anew_leaves_what_it_was(office: Client) -> None:
    house = HouseFactory(code="H1", name="Mist house")
    form = office.get("/houses/H1/change/").context["form"]
    sent = {name: value for name in form.fields if (value := form[name].value()) is not None}
    office.post("/houses/H1/change/", sent | {"name": "Cool house"})
    house.refresh_from_db()
    assert house.name == "Cool house"
    (note,) = ChangeNote.objects.all()
    assert json.loads(note.before) == {"name": "Mist house"}
    assert json.loads(note.after) == {"name": "Cool house"}


def test_a_ferns_own_days_are_noted(office: Client) -> None:
    taxon = TaxonFactory()
    page = office.get(reverse("batches:fern-windows", args=[taxon.code]))
    sent = {}
    for _, forms in page.context["groups"]:
        for form in forms:
            for name in form.fields:
                value = form[name].value()
                sent[form.add_prefix(name)] = "" if value is None else value
    office.post(reverse("batches:fern-windows", args=[taxon.code]), sent)
    assert [what for what, _, _ in notes()] == ["own days set"]


def test_the_page_lists_them_newest_first_finds_by_name_and_shows_notes_as_text(
    manager: Client, hand: Client
) -> None:
    for number in range(70):
        note_change(what="signed in", now=NOW, by=f"Person {number}")
    note_change(what="sign-in refused", now=NOW, about="<script>alert(1)</script>")
    page = manager.get("/changes/").content.decode()
    assert "71 changes" in page
    assert page.index("sign-in refused") < page.index("Person 69")
    assert "Person 3<" not in page
    assert "<script>alert" not in page
    assert "Person 3<" in manager.get("/changes/?page=2").content.decode()
    assert "1 change about" in manager.get("/changes/?about=refused").content.decode()
    assert ChangeNote.objects.order_by("-number")[0].hash in page
    assert hand.get("/changes/").status_code == 403


def test_the_page_says_in_words_what_was_before_and_after(manager: Client) -> None:
    note_change(
        what="setting changed", now=NOW, by="Greta Lunn", before={"nursery_name": ""},
        after={"nursery_name": "Fern <b>house</b>"},
    )  # fmt: skip
    note_change(what="role given", now=NOW, before="hand", after=["office", "manager"])
    page = manager.get("/changes/").content.decode()
    assert "nursery_name: –" in page
    assert "nursery_name: Fern &lt;b&gt;house&lt;/b&gt;" in page
    assert ">hand</td>" in page
    assert ">office, manager</td>" in page


def test_the_file_holds_every_note_with_its_seal(manager: Client) -> None:
    note_change(what="signed in", now=NOW, by="Greta Lunn")
    text = manager.get("/changes/list.csv").content.decode("utf-8-sig")
    (row,) = csv.DictReader(io.StringIO(text))
    assert row["what"] == "signed in"
    assert row["hash"] == ChangeNote.objects.get().hash
