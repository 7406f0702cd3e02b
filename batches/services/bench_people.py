"""Who stands at a bench tablet, proved by a PIN or a badge?

A look is never refused because nobody proved who they are; a proof only says that the name was not
merely tapped. PINs are kept as slow hashes, badges as hashes of a secret that nobody can guess.
Wrong PINs cost time, by person and by tablet, and the manager is told; nobody is locked out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from django.contrib.auth.hashers import check_password, make_password

from batches.core.errors import NurseryError
from batches.models import Device, FailedSignIn, Person
from batches.services import secrets_of_links, throttle

LEAST_DIGITS, MOST_DIGITS = 6, 12
#: what a badge's QR begins with, so that a tablet knows it from a tray's code
BADGE = "BADGE-"
_PIN_OF = "pin of "
_TOLD_FROM = throttle.FREE_TRIES["name"]


class NotProved(NurseryError):
    """Name and PIN do not belong together, or the badge is none of this nursery's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongPins:
    """Somebody's PIN was typed wrong several times within the hour."""

    name: str
    times: int
    last_at: datetime


def set_pin(*, person: Person, pin: str) -> None:
    """Give a person a PIN for the bench tablets.

    Raises
    ------
    NurseryError
        For anything but 6 to 12 digits, and for digits that are guessed first.
    """
    pin = pin.strip()
    if not (pin.isascii() and pin.isdigit() and LEAST_DIGITS <= len(pin) <= MOST_DIGITS):
        raise NurseryError(
            f"A PIN is {LEAST_DIGITS} to {MOST_DIGITS} digits. Nothing was changed.", field="pin"
        )
    steps = {int(after) - int(before) for before, after in pairwise(pin)}
    if len(steps) == 1 and steps <= {-1, 0, 1}:
        raise NurseryError(
            "One digit over and over, or digits in a row, are guessed first. Choose another PIN. "
            "Nothing was changed.",
            field="pin",
        )
    person.pin_hash = make_password(pin)
    person.save(update_fields=["pin_hash"])
    throttle.forget(name=_PIN_OF + person.name)


def take_pin_away(*, person: Person) -> None:
    """Let a person have no PIN any more."""
    Person.objects.filter(pk=person.pk).update(pin_hash="")


def person_of_pin(*, name: str, pin: str, device: str, now: datetime) -> Person:
    """Return the person whose name and PIN these are.

    Raises
    ------
    NotProved
        They do not belong together, or that person has no PIN.
    WaitFirst
        Too many wrong PINs lie behind, for this person or from this device.
    """
    who = _PIN_OF + name
    throttle.refuse_if_too_many(name=who, device=device, now=now, way="show your badge")
    person = Person.objects.filter(name=name, is_active=True).exclude(pin_hash="").first()
    if person is None or not check_password(pin, person.pin_hash):
        throttle.note_wrong(name=who, device=device, now=now)
        raise NotProved(
            "This name and this PIN do not belong together. Try again, show your badge, or go on "
            "without: what you log is kept all the same."
        )
    throttle.forget(name=who)
    return person


def make_badge(*, person: Person) -> str:
    """Give a person a new badge and return what its QR says; an older badge is void from now on.

    It is to be printed now: it cannot be read again.
    """
    secret = secrets_of_links.new_typed_secret()
    Person.objects.filter(pk=person.pk).update(badge_hash=secrets_of_links.hash_of(secret))
    return BADGE + secret


def take_badge_back(*, person: Person) -> None:
    """Make a person's badge void: it was lost, or they left."""
    Person.objects.filter(pk=person.pk).update(badge_hash="")


def person_of_badge(*, badge: str, device: str, now: datetime) -> Person:
    """Return the person whose badge was scanned.

    Raises
    ------
    NotProved
        The badge is void, or none of this nursery's.
    WaitFirst
        Too many wrong ones came from this device.
    """
    who = f"badge at {device}"
    throttle.refuse_if_too_many(name=who, device=device, now=now, way="tap your name")
    secret = secrets_of_links.typed(badge.strip().upper().removeprefix(BADGE))
    person = None
    if secret:
        wanted = secrets_of_links.hash_of(secret)
        person = Person.objects.filter(badge_hash=wanted, is_active=True).first()
    if person is None:
        throttle.note_wrong(name=who, device=device, now=now)
        raise NotProved(
            "This badge is void, or none of this nursery's. Tap your name instead, and ask a "
            "manager for a new badge."
        )
    return person


def device_key(device: Device | None, address: str) -> str:
    """Return by what wrong tries are counted: the tablet, else the network address."""
    return f"tablet {device.pk}" if device is not None else address


def wrong_pins(*, now: datetime) -> tuple[WrongPins, ...]:
    """Return whose PIN was typed wrong so often within the hour that it had to be slowed down."""
    rows = FailedSignIn.objects.filter(
        who__startswith=f"name:{_PIN_OF}", at__gt=now - throttle.REMEMBERED
    ).order_by("at")
    times: dict[str, list[datetime]] = {}
    for who, at in rows.values_list("who", "at"):
        times.setdefault(who.removeprefix(f"name:{_PIN_OF}"), []).append(at)
    names = {name.lower(): name for name in Person.objects.values_list("name", flat=True)}
    return tuple(
        WrongPins(name=names.get(who, who), times=len(some), last_at=some[-1])
        for who, some in sorted(times.items())
        if len(some) >= _TOLD_FROM
    )
