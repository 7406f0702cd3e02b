"""Are people made, moved between roles and stopped without shutting the nursery out?"""

from __future__ import annotations

from datetime import datetime

import pytest

from batches.core.errors import NurseryError
from batches.models import Person
from batches.services import people

pytestmark = pytest.mark.django_db


def test_a_person_is_made_once_whatever_the_spaces() -> None:
    first = people.person_in_role(name="  Ines   Brake ", role="hand")
    again = people.person_in_role(name="Ines Brake", role=None)
    assert (first.pk, again.name, again.role) == (again.pk, "Ines Brake", "hand")


def test_naming_another_role_changes_the_role() -> None:
    people.person_in_role(name="Ines Brake", role="hand")
    assert people.person_in_role(name="Ines Brake", role="office").role == "office"
    assert Person.objects.count() == 1


def test_naming_a_person_who_left_brings_them_back() -> None:
    person = people.person_in_role(name="Ines Brake", role="hand")
    people.stop_person(person=person)
    assert people.person_in_role(name="Ines Brake", role=None).is_active


@pytest.mark.parametrize(
    ("name", "role", "says"),
    [
        ("Ines Brake", None, "Nobody is called"),
        ("Ines Brake", "owner", "no role 'owner'"),
        ("   ", "hand", "cannot be a name"),
        ("x" * 81, "hand", "cannot be a name"),
    ],
)
def test_who_cannot_be_made_is_told_why(name: str, role: str | None, says: str) -> None:
    with pytest.raises(NurseryError, match=says):
        people.person_in_role(name=name, role=role)
    assert not Person.objects.exists()


def test_the_last_manager_can_neither_leave_nor_be_made_something_else() -> None:
    greta = people.person_in_role(name="Greta Lunn", role="manager")
    with pytest.raises(NurseryError, match="only manager"):
        people.stop_person(person=greta)
    with pytest.raises(NurseryError, match="only manager"):
        people.person_in_role(name="Greta Lunn", role="hand")
    people.person_in_role(name="Ines Brake", role="manager")
    people.stop_person(person=greta)
    greta.refresh_from_db()
    assert not greta.is_active


def test_stopping_somebody_takes_their_unused_links_away(now: datetime) -> None:
    person = people.person_in_role(name="Ines Brake", role="hand")
    link = people.make_signin_link(person=person, now=now)
    people.stop_person(person=person)
    people.person_in_role(name="Ines Brake", role="hand")
    with pytest.raises(people.LinkNotUsable):
        people.use_signin_link(secret=link.secret, now=now)


def test_a_new_nursery_gets_a_manager_and_an_old_one_keeps_its_first() -> None:
    assert not people.has_anybody_signed_in()
    assert people.first_manager().name == "Manager"
    people.person_in_role(name="Greta Lunn", role="manager")
    assert people.first_manager().name == "Manager"
    assert Person.objects.count() == 2
