"""How green is a tray in a photo, and what is that held against its other photos by?

The picture is opened and scaled here; the reckoning is `batches.core.cover`. Moss and algae are
green too, and a wet lid must come off first.
"""

from __future__ import annotations

import io
from dataclasses import asdict
from pathlib import Path

from PIL import Image, ImageOps, UnidentifiedImageError

from batches.core.cover import GreenCover, cropped, green_cover
from batches.core.errors import NurseryError
from batches.core.photo_light import PhotoLight
from batches.models import CheckPhoto
from batches.services.photos import MOST_BYTES, MOST_PIXELS, BadPhoto, refuse_cut_pictures

#: pictures are scaled to about this width before they are reckoned: more tells nothing more
RECKONED_SIDE = 800
_FORMATS = ("JPEG", "PNG", "WEBP")

Crop = tuple[int, int, int, int]


def cover_of_file(*, path: Path, crop: Crop | None = None) -> GreenCover:
    """Return the green share of a picture file.

    Parameters
    ----------
    crop : (x, y, w, h), optional
        In the picture's own pixels: the tray alone.

    Raises
    ------
    BadPhoto, PhotoError
        When it is no picture that can be read, or the crop does not lie inside it.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BadPhoto(f"{path} cannot be read ({error.strerror}).") from error
    return cover_of_bytes(data=data, crop=crop)


def cover_of_bytes(
    *,
    data: bytes,
    crop: Crop | None = None,
    last_light: PhotoLight | None = None,
) -> GreenCover:
    """Return the green share of a picture given as the bytes of its file; errors as above."""
    import numpy as np

    if len(data) > MOST_BYTES:
        raise BadPhoto("The picture is larger than 10 MB; send a smaller one.")
    refuse_cut_pictures()
    try:
        with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise BadPhoto("The picture has more than 40 million pixels; send a smaller one.")
            upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError) as error:
        raise BadPhoto("The file is no JPEG, PNG or WebP picture that can be read.") from error
    if crop is not None:
        x, y, w, h = crop
        upright = Image.fromarray(cropped(np.asarray(upright), x=x, y=y, w=w, h=h))
    upright.thumbnail((RECKONED_SIDE, RECKONED_SIDE))
    return green_cover(np.asarray(upright), last_light=last_light)


def reckon_photo(*, photo: CheckPhoto, folder: Path) -> CheckPhoto:
    """Store the green share of a kept photo; a picture that cannot be reckoned stays without."""
    try:
        found = cover_of_bytes(data=(folder / photo.file).read_bytes())
    except (NurseryError, OSError):
        return photo
    photo.green_share = found.share
    photo.green_second = found.second_opinion
    photo.comparable = found.comparable
    photo.light = asdict(found.light)
    photo.save(update_fields=["green_share", "green_second", "comparable", "light"])
    return photo
