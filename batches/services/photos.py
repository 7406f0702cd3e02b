"""How does a picture taken at the bench come in safely, and where is it kept?

Every picture is opened, turned upright, scaled and written anew: no camera data, no place, no
trick of its file name or format survives.
"""

from __future__ import annotations

import hashlib
import io
import os
import uuid
import warnings
from datetime import datetime
from pathlib import Path

from django.db import IntegrityError, transaction
from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

from batches.core.errors import NurseryError
from batches.models import CheckPhoto, TrayCheck

MOST_BYTES = 10 * 1024 * 1024
MOST_PIXELS = 40_000_000
#: the longer side of what is kept, in pixels
KEPT_SIDE = 1_600
#: the longer side of the small copy that a tablet's card shows
SMALL_SIDE = 480
#: the folder of small copies, beside the pictures: made when asked for, and in no backup
SMALL = "small"
_FORMATS = ("JPEG", "PNG", "WEBP")


class BadPhoto(NurseryError):
    """The file is no picture that can be kept."""


def keep_photo(
    *, check: TrayCheck, data: bytes, folder: Path, now: datetime, photo_id: uuid.UUID | None = None
) -> CheckPhoto:
    """Store a picture of a look; the same ``photo_id`` twice is stored once.

    A stored picture whose file was lost is written again.

    Parameters
    ----------
    data : bytes
        A JPEG, PNG or WebP of at most 10 MB and 40 million pixels.
    folder : Path
        Where pictures are kept.

    Raises
    ------
    BadPhoto
        In words; the look itself stays stored.
    """
    new_id = photo_id or uuid.uuid4()
    known = CheckPhoto.objects.filter(pk=new_id).first()
    if known is not None and (folder / known.file).is_file():
        return known
    written, size = encoded_anew(data)
    name = f"{new_id}.jpg"
    _write(written, folder=folder, name=name)
    if known is not None:
        return known
    try:
        with transaction.atomic():
            return CheckPhoto.objects.create(
                id=new_id,
                check_row=check,
                file=name,
                sha256=hashlib.sha256(written).hexdigest(),
                width=size[0],
                height=size[1],
                recorded_at=now,
            )
    except IntegrityError:
        # The same picture was being stored at the same time from another side.
        return CheckPhoto.objects.get(pk=new_id)
    except Exception:
        (folder / name).unlink(missing_ok=True)
        raise


def _write(data: bytes, *, folder: Path, name: str) -> None:
    """Write a file whole or not at all, and see it on the disk."""
    folder.mkdir(parents=True, exist_ok=True)
    draft = folder / f".{name}.{uuid.uuid4().hex}.part"
    try:
        with draft.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(folder / name)
    finally:
        draft.unlink(missing_ok=True)


def small_copy(*, photo: CheckPhoto, folder: Path) -> Path:
    """Return the file of a photo's small copy, made when it is not there yet.

    Raises
    ------
    BadPhoto
        When the picture itself is missing or cannot be read.
    """
    small = folder / SMALL / photo.file
    if small.is_file():
        return small
    try:
        with Image.open(folder / photo.file, formats=_FORMATS) as picture:
            picture.draft("RGB", (SMALL_SIDE, SMALL_SIDE))
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise BadPhoto("The picture is missing from the photo folder.") from error
    upright.thumbnail((SMALL_SIDE, SMALL_SIDE))
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=80, optimize=True)
    _write(out.getvalue(), folder=small.parent, name=small.name)
    return small


def encoded_anew(data: bytes) -> tuple[bytes, tuple[int, int]]:
    """Return the picture as a fresh JPEG of at most `KEPT_SIDE` and its size; raise `BadPhoto`."""
    if not data:
        raise BadPhoto("The photo is empty. The look is stored; take the photo again.")
    if len(data) > MOST_BYTES:
        raise BadPhoto("The photo is larger than 10 MB. The look is stored; send a smaller one.")
    refuse_cut_pictures()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise BadPhoto(
                        "The photo has more than 40 million pixels. The look is stored; send a "
                        "smaller one."
                    )
                picture.draft("RGB", (KEPT_SIDE, KEPT_SIDE))
                upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise _not_a_picture() from error
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise _not_a_picture() from error
    upright.thumbnail((KEPT_SIDE, KEPT_SIDE))
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=85, optimize=True)
    return out.getvalue(), upright.size


def refuse_cut_pictures() -> None:
    """Have Pillow refuse a picture that ends too early, before one is opened.

    The printing library tells Pillow, for the whole process, to fill such a picture up with grey.
    """
    ImageFile.LOAD_TRUNCATED_IMAGES = False


def _not_a_picture() -> BadPhoto:
    return BadPhoto(
        "The file is no JPEG, PNG or WebP picture that can be read. The look is stored; take the "
        "photo again."
    )
