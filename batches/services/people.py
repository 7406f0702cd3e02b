"""Who works here, in which role, and how do they sign in?

A person signs in by a one-time link that a manager hands over, or by a password of their own
choice.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth import authenticate
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from batches.core.errors import NurseryError
from batches.models import Person, SignInLink
from batches.models.people import ROLES
from batches.services import secrets_of_links, throttle
from batches.services.own_settings import own_setting

LINK_LIFE = timedelta(hours=24)
ROLE_WORDS = dict(ROLES)


class LinkNotUsable(NurseryError):
    """The one-time link was used, is out of time, or never existed."""

    def __init__(self) -> None:
        super().__init__(
            "This link was used before, or its time is over. Nothing was changed. Ask a "
            "manager for a new one."
        )


class WrongPassword(NurseryError):
    """Name and password do not belong together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OneTimeSecret:
    """A secret that opens one door once, to be shown now: it cannot be read again."""

    secret: str
    expires_at: datetime


def has_anybody_signed_in() -> bool:
    """Say whether anybody ever signed in here."""
    return Person.objects.filter(last_login__isnull=False).exists()


def first_manager() -> Person:
    """Give the manager who was here first; where there is none, one called Manager is made."""
    found = Person.objects.filter(role="manager", is_active=True).order_by("pk").first()
    return found or person_in_role(name="Manager", role="manager")


def person_in_role(*, name: str, role: str | None) -> Person:
    """Give the person of that name and role, made where needed; None leaves the role as it is.

    Raises
    ------
    NurseryError
        The name is empty or too long, the role is unknown, or nobody has that name and no role
        was given.
    """
    name = " ".join(name.split())
    if role is not None and role not in ROLE_WORDS:
        raise NurseryError(
            f"There is no role {role!r}. Roles are hand, office and manager.", field="role"
        )
    with transaction.atomic():
        person = Person.objects.filter(name=name).first()
        if person is None:
            if role is None:
                raise NurseryError(
                    f"Nobody is called {name!r} here. Nothing was changed. Name a role to add "
                    "them: "
                    "hand, office or manager.",
                    field="role",
                )
            try:
                made = Person.objects.create_user(name, role=role)
            except ValidationError as error:
                raise NurseryError(
                    f"{name!r} cannot be a name here: {' '.join(error.messages)}", field="name"
                ) from error
            # They begin in the nursery's language, and choose another at the foot of any page.
            made.language = own_setting("language")
            made.save(update_fields=["language"])
            return made
        wanted = {"role": role or person.role, "is_active": True}
        if (person.role, person.is_active) != (wanted["role"], True):
            _keep_a_manager(person, stays=wanted["role"] == "manager")
            Person.objects.filter(pk=person.pk).update(**wanted)
            person.refresh_from_db()
    return person


def rename_person(*, person: Person, name: str) -> None:
    """Give somebody another name; what was written under the old one keeps it.

    Looks and deeds name whoever did them in plain text and are never changed; the change is noted.

    Raises
    ------
    NurseryError
        The name is empty or too long, somebody else has it, or it was changed meanwhile.
    """
    name = " ".join(name.split())
    if not 1 <= len(name) <= 80:
        raise NurseryError("A name has 1 to 80 letters. Nothing was changed.", field="name")
    with transaction.atomic():
        if Person.objects.filter(name__iexact=name).exclude(pk=person.pk).exists():
            raise NurseryError(
                f"{name} is already the name of somebody here. Nothing was changed.", field="name"
            )
        if not Person.objects.filter(pk=person.pk, name=person.name).update(name=name):
            raise NurseryError(
                "Somebody else changed this name meanwhile. Nothing was changed.", field="name"
            )
    person.name = name


def stop_person(*, person: Person) -> None:
    """Let somebody who left sign in no more; what they did stays under their name.

    Raises
    ------
    NurseryError
        Nobody else here is a manager.
    """
    with transaction.atomic():
        _keep_a_manager(person, stays=False)
        Person.objects.filter(pk=person.pk).update(is_active=False)
        SignInLink.objects.filter(person=person, used_at__isnull=True).delete()


def _keep_a_manager(person: Person, *, stays: bool) -> None:
    others = Person.objects.filter(role="manager", is_active=True).exclude(pk=person.pk)
    if person.role == "manager" and person.is_active and not stays and not others.exists():
        raise NurseryError(
            f"{person.name} is the only manager here. Nothing was changed. Make somebody else "
            "a manager first.",
            field="role",
        )


def make_signin_link(*, person: Person, now: datetime) -> OneTimeSecret:
    """Make the secret of a link that signs `person` in once, within a day."""
    made = OneTimeSecret(secret=secrets_of_links.new_secret(), expires_at=now + LINK_LIFE)
    SignInLink.objects.create(
        person=person,
        token_hash=secrets_of_links.hash_of(made.secret),
        made_at=now,
        expires_at=made.expires_at,
    )
    return made


def person_of_link(*, secret: str, now: datetime) -> Person:
    """Give the person whom a link would sign in, and leave the link unused.

    Raises
    ------
    LinkNotUsable
        It was used, is out of time, never existed, or its person left.
    """
    link = (
        SignInLink.objects.usable(now)
        .filter(token_hash=secrets_of_links.hash_of(secret), person__is_active=True)
        .select_related("person")
        .first()
    )
    if link is None:
        raise LinkNotUsable
    return link.person


def use_signin_link(*, secret: str, now: datetime) -> Person:
    """Use a link up and give the person who is signed in by it; of two at once, one succeeds.

    Raises
    ------
    LinkNotUsable
        It was used, is out of time, never existed, or its person left.
    """
    with transaction.atomic():
        person = person_of_link(secret=secret, now=now)
        used = (
            SignInLink.objects.usable(now)
            .filter(token_hash=secrets_of_links.hash_of(secret))
            .update(used_at=now)
        )
        if used != 1:
            raise LinkNotUsable
    return person


def person_of_password(*, name: str, password: str, device: str, now: datetime) -> Person:
    """Give the person whose name and password these are.

    Raises
    ------
    WrongPassword
        They do not belong together, or that person has no password.
    WaitFirst
        Too many wrong tries lie behind, under this name or from this device.
    """
    throttle.refuse_if_too_many(name=name, device=device, now=now)
    person = authenticate(username=" ".join(name.split()), password=password)
    if not isinstance(person, Person):
        throttle.note_wrong(name=name, device=device, now=now)
        raise WrongPassword(
            "This name and this password do not belong together. Try again, or ask a manager "
            "for a one-time link."
        )
    throttle.forget(name=name)
    return person


def choose_password(*, person: Person, current: str, new: str, device: str, now: datetime) -> None:
    """Give `person` a password of their choice; who has one already proves it first.

    Raises
    ------
    WrongPassword
        `current` is not the password so far.
    WaitFirst
        Too many wrong tries lie behind.
    NurseryError
        The new one is too short, too common, or too like the name; the message says which.
    """
    throttle.refuse_if_too_many(name=person.name, device=device, now=now)
    if person.has_usable_password() and not person.check_password(current):
        throttle.note_wrong(name=person.name, device=device, now=now)
        raise WrongPassword(
            "This is not your password so far. Nothing was changed.", field="current"
        )
    try:
        validate_password(new, user=person)
    except ValidationError as error:
        raise NurseryError(" ".join(error.messages), field="new") from error
    person.set_password(new)
    person.save(update_fields=["password"])
    throttle.forget(name=person.name)
