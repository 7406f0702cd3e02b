"""A tablet sends the picture of a look: has the look arrived, and is the picture stored once?"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from uuid import UUID

from batches.core.errors import AlreadyTaken, NurseryError
from batches.models import CheckPhoto, ToSettle, TrayCheck
from batches.services.green_share import reckon_photo
from batches.services.photos import BadPhoto, keep_photo, small_copy


class LookNotHere(NurseryError):
    """The look has not arrived, or waits to be settled: the tablet keeps its picture."""


def take_photo(*, photo_id: UUID, check_id: UUID, data: bytes, folder: Path, now: datetime) -> bool:
    """Store a picture of a look with its green share and its small copy; True when it is new.

    Raises
    ------
    LookNotHere
        Keep the picture and send it again later.
    BadPhoto, AlreadyTaken
        It will never be taken: no picture, one of a look that was left out, or another picture of
        this id.
    """
    check = TrayCheck.objects.filter(pk=check_id).first()
    if check is None:
        raise _no_look(check_id)
    known = CheckPhoto.objects.filter(pk=photo_id).first()
    if known is not None and known.check_row_id != check_id:
        raise AlreadyTaken(f"The id {photo_id} stands for the picture of another look already.")
    photo = keep_photo(check=check, data=data, folder=folder, now=now, photo_id=photo_id)
    if photo.comparable is None:
        # New, or the power failed before its share was reckoned the first time.
        reckon_photo(photo=photo, folder=folder)
    small_copy(photo=photo, folder=folder)
    return known is None


def _no_look(check_id: UUID) -> NurseryError:
    waiting = ToSettle.objects.filter(pk=check_id).first()
    if waiting is None:
        return LookNotHere("The look of this photo has not arrived here. Send the look first.")
    if waiting.settled_at is None:
        return LookNotHere("The look of this photo waits for the manager. Keep the photo.")
    return BadPhoto("The look of this photo was left out by the manager.")
