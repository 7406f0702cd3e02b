"""Does the manager add people, hand them links, and let them go?"""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from batches.models import ChangeNote, Person
from batches.services.bench_people import NotProved, person_of_badge
from tests.factories import NOW, TrayCheckFactory
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_somebody_is_added_and_signs_in_by_the_link_that_is_shown_once(manager):
    manager.post(reverse("batches:people"), {"name": "Wilf  Arden", "role": "hand"})
    person = Person.objects.get(name="Wilf Arden")
    assert not person.has_usable_password()
    page = manager.post(reverse("batches:person-link", args=[person.pk])).content.decode()
    path = re.search(r"http://testserver(/sign-in/[^/<]+/)", page)
    assert path is not None
    newcomer = Client()
    newcomer.post(path.group(1))
    assert newcomer.get("/my-password/").status_code == 200
    assert Client().post(path.group(1)).status_code != 302


def test_a_known_name_gets_the_role_chosen_and_the_last_manager_stays_one(manager, hand_person):
    manager.post(reverse("batches:people"), {"name": hand_person.name, "role": "office"})
    hand_person.refresh_from_db()
    assert hand_person.role == "office"
    refused = manager.post(reverse("batches:people"), {"name": "Greta Lunn", "role": "hand"})
    assert refused.status_code == 422
    assert "only manager" in refused.content.decode()


def test_somebody_who_left_can_sign_in_no_more(manager, hand, hand_person):
    manager.post(reverse("batches:person-stop", args=[hand_person.pk]))
    assert hand.get("/my-password/").status_code == 302
    assert "left" in manager.get(reverse("batches:people")).content.decode()


def test_an_empty_name_is_told_and_nobody_is_added(manager):
    answer = manager.post(reverse("batches:people"), {"name": " ", "role": "hand"})
    assert answer.status_code == 422
    assert Person.objects.count() == 1


def test_a_manager_sets_a_pin_and_everybody_their_own(manager, hand, hand_person):
    address = reverse("batches:person-badge", args=[hand_person.pk])
    for wrong in ("12345", "123456", "876543", "555555", "12345a", "１２３４５７"):
        answer = manager.post(address, {"what": "pin", "pin": wrong})
        assert answer.status_code == 422, wrong
    hand_person.refresh_from_db()
    assert hand_person.pin_hash == ""
    manager.post(address, {"what": "pin", "pin": "402718"})
    hand_person.refresh_from_db()
    assert "402718" not in hand_person.pin_hash
    first = hand_person.pin_hash
    assert hand.post(reverse("batches:my-pin"), {"pin": "112233"}).status_code == 302
    hand_person.refresh_from_db()
    assert hand_person.pin_hash not in {"", first}
    manager.post(address, {"what": "no-pin"})
    hand_person.refresh_from_db()
    assert hand_person.pin_hash == ""


def test_a_badge_is_shown_once_and_its_qr_says_what_a_tablet_takes(manager, hand_person):
    address = reverse("batches:person-badge", args=[hand_person.pk])
    page = manager.post(address, {"what": "badge"}).content.decode()
    text = re.search(r"BADGE-[A-Z2-9-]{19}", page)
    assert text is not None
    assert "data:image/svg+xml;base64," in page
    assert person_of_badge(badge=text.group(), device="x", now=NOW) == hand_person
    again = manager.get(address).content.decode()
    assert text.group() not in again
    assert "has a badge" in again
    manager.post(address, {"what": "no-badge"})
    with pytest.raises(NotProved):
        person_of_badge(badge=text.group(), device="x", now=NOW)


def test_the_first_manager_gets_a_name_of_their_own_and_old_looks_keep_the_old_one(
    manager, manager_person
):
    Person.objects.filter(pk=manager_person.pk).update(name="Manager")
    look = TrayCheckFactory(by="Manager")
    address = reverse("batches:person-rename", args=[manager_person.pk])
    assert address in page(manager, "people")
    answer = manager.post(address, {"name": "  Greta   Lunn "}, follow=True)
    assert "Manager is called Greta Lunn now" in answer.content.decode()
    manager_person.refresh_from_db()
    look.refresh_from_db()
    assert (manager_person.name, look.by) == ("Greta Lunn", "Manager")
    noted = ChangeNote.objects.get(what="person renamed")
    assert (noted.by, noted.about) == ("Manager", "Greta Lunn")
    assert ("Manager" in noted.before, "Greta Lunn" in noted.after) == (True, True)


def test_a_name_that_somebody_has_or_that_is_empty_is_refused(manager, hand_person, manager_person):
    address = reverse("batches:person-rename", args=[hand_person.pk])
    for wrong in (manager_person.name, manager_person.name.upper(), " ", "x" * 81):
        assert manager.post(address, {"name": wrong}).status_code == 422, wrong
    before = hand_person.name
    hand_person.refresh_from_db()
    assert hand_person.name == before
    assert not ChangeNote.objects.filter(what="person renamed").exists()


def test_people_and_tablets_lead_to_each_other_and_to_the_settings(manager):
    assert 'href="/tablets/"' in page(manager, "people").split("<main")[1]
    tablets = page(manager, "tablets").split("<main")[1]
    assert 'href="/people/"' in tablets
    assert 'href="/settings/"' in tablets
