"""Which tablets stand at the benches, and how does one enrol?

A manager makes a code that works once within ten minutes; the tablet that uses it gets a secret
of its own, good for a year, which the manager can revoke. A revoked tablet keeps what it has not
sent: it asks to be enrolled again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from batches.core.errors import NurseryError
from batches.models import Device, EnrolmentCode
from batches.services import secrets_of_links, throttle
from batches.services.people import OneTimeSecret

CODE_LIFE = timedelta(minutes=10)
SEEN_EVERY = timedelta(minutes=5)


class CodeNotUsable(NurseryError):
    """The code was used, is out of time, or never existed."""

    def __init__(self) -> None:
        super().__init__(
            "This code was used before, or its ten minutes are over. Nothing was changed. Ask "
            "a manager for a new one."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class EnrolledTablet:
    """A tablet just enrolled, and the secret it keeps in its cookie."""

    device: Device
    secret: str


def make_enrolment_code(*, tablet_name: str, made_by: str, now: datetime) -> OneTimeSecret:
    """Make a code with which one tablet enrols, once, within ten minutes.

    Raises
    ------
    NurseryError
        The tablet's name is empty or longer than 80 letters.
    """
    name = " ".join(tablet_name.split())
    if not 1 <= len(name) <= 80:
        raise NurseryError(
            "Give the tablet a name of 1 to 80 letters, like Mist house. Nothing was made.",
            field="name",
        )
    made = OneTimeSecret(secret=secrets_of_links.new_typed_secret(), expires_at=now + CODE_LIFE)
    EnrolmentCode.objects.create(
        tablet_name=name,
        token_hash=secrets_of_links.hash_of(made.secret),
        made_by=made_by,
        made_at=now,
        expires_at=made.expires_at,
    )
    return made


def code_in_time(*, code: str, now: datetime) -> EnrolmentCode:
    """Give the unused code that was typed, or opened as an address.

    Raises
    ------
    CodeNotUsable
        It was used, is out of time, or never existed.
    """
    found = EnrolmentCode.objects.filter(
        token_hash=secrets_of_links.hash_of(secrets_of_links.typed(code)),
        used_at__isnull=True,
        expires_at__gt=now,
    ).first()
    if found is None:
        raise CodeNotUsable
    return found


def code_in_time_or_wait(*, code: str, device: str, now: datetime) -> EnrolmentCode:
    """Give the code that was typed, and slow down whoever guesses.

    Raises
    ------
    CodeNotUsable
        It was used, is out of time, or never existed.
    WaitFirst
        Too many wrong codes were typed on this device.
    """
    name = f"code typed at {device}"
    throttle.refuse_if_too_many(name=name, device=device, now=now)
    try:
        return code_in_time(code=code, now=now)
    except CodeNotUsable:
        throttle.note_wrong(name=name, device=device, now=now)
        raise


def enrol(*, code: str, now: datetime) -> EnrolledTablet:
    """Use a code up and enrol the tablet that brought it; of two at once, one succeeds.

    Raises
    ------
    CodeNotUsable
        It was used, is out of time, or never existed.
    """
    with transaction.atomic():
        found = code_in_time(code=code, now=now)
        used = EnrolmentCode.objects.filter(pk=found.pk, used_at__isnull=True).update(used_at=now)
        if used != 1:
            raise CodeNotUsable
        secret = secrets_of_links.new_secret()
        device = Device.objects.create(
            name=found.tablet_name,
            token_hash=secrets_of_links.hash_of(secret),
            enrolled_by=found.made_by,
            enrolled_at=now,
            last_seen_at=now,
        )
    return EnrolledTablet(device=device, secret=secret)


def tablet_of(*, secret: str, now: datetime) -> Device | None:
    """Give the enrolled tablet whose cookie this is; None where there is none, or it was revoked.

    That it was seen is written down every five minutes at most.
    """
    if not secret:
        return None
    device = Device.objects.enrolled().filter(token_hash=secrets_of_links.hash_of(secret)).first()
    if device is not None and (
        device.last_seen_at is None or now - device.last_seen_at > SEEN_EVERY
    ):
        Device.objects.filter(pk=device.pk).update(last_seen_at=now)
        device.last_seen_at = now
    return device


def was_revoked(*, secret: str) -> bool:
    """Tell whether this cookie is that of a tablet that was revoked."""
    if not secret:
        return False
    return Device.objects.revoked().filter(token_hash=secrets_of_links.hash_of(secret)).exists()


def note_contact(*, device: Device, waiting: int, photos: int, now: datetime) -> None:
    """Write down that a tablet called, and how much it said it still has to send."""
    Device.objects.filter(pk=device.pk).update(
        last_seen_at=now, waiting=waiting, photos_waiting=photos
    )


def revoke(*, device: Device, now: datetime) -> None:
    """Let a tablet send no more until it is enrolled again."""
    Device.objects.filter(pk=device.pk, revoked_at__isnull=True).update(revoked_at=now)
