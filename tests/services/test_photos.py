"""Does a photo come in safely: upright, small, without its camera's data, or refused in words?"""

from __future__ import annotations

import hashlib
import io
import uuid

import numpy as np
import pytest
from PIL import Image

from batches.models import CheckPhoto
from batches.services.photos import KEPT_SIDE, BadPhoto, encoded_anew, keep_photo
from tests.factories import NOW, TrayCheckFactory

# Tags of EXIF. Source: CIPA DC-008 (Exif 2.32), tags 0x0112 Orientation and 0x010F Make.
ORIENTATION, MAKE = 0x0112, 0x010F


def picture(size: tuple[int, int] = (300, 200), kind: str = "JPEG", exif: Image.Exif | None = None):
    """A picture whose upper half is green."""
    drawn = Image.new("RGB", size, (90, 70, 50))
    drawn.paste((40, 160, 60), (0, 0, size[0], size[1] // 2))
    out = io.BytesIO()
    drawn.save(out, kind, exif=exif or Image.Exif())
    return out.getvalue()


def test_a_picture_lying_on_its_side_is_turned_and_loses_its_cameras_data():
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # turn it clockwise to see it upright
    exif[MAKE] = "Pinhole"
    written, size = encoded_anew(picture(exif=exif))
    assert size == (200, 300)
    assert b"Pinhole" not in written
    kept = Image.open(io.BytesIO(written))
    assert not kept.getexif()
    # What was above is now on the right.
    red, green, _ = np.asarray(kept)[150, 180]
    assert green > 140 > red


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_every_kind_becomes_a_jpeg_of_a_bounded_size(kind):
    written, size = encoded_anew(picture((2_400, 1_200), kind))
    assert size == (KEPT_SIDE, KEPT_SIDE // 2)
    assert Image.open(io.BytesIO(written)).format == "JPEG"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "empty"),
        (b"<svg/>", "no JPEG, PNG or WebP"),
        (picture(kind="GIF"), "no JPEG, PNG or WebP"),
        (picture()[:-400], "no JPEG, PNG or WebP"),
        (picture(kind="PNG")[:-60], "no JPEG, PNG or WebP"),
        (b"\xff\xd8" + bytes(10 * 1024 * 1024), "larger than 10 MB"),
    ],
    ids=["nothing", "a drawing", "another kind", "cut jpeg", "cut png", "too large"],
)
def test_what_cannot_be_kept_is_refused_in_words(data, said, monkeypatch):
    # As the printing library leaves it, once it was loaded.
    monkeypatch.setattr("PIL.ImageFile.LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(BadPhoto, match=said) as refused:
        encoded_anew(data)
    assert "The look is stored" in str(refused.value)


@pytest.mark.django_db
def test_the_same_photo_sent_twice_is_kept_once(tmp_path):
    check = TrayCheckFactory()
    same = uuid.uuid4()
    for _ in range(2):
        kept = keep_photo(check=check, data=picture(), folder=tmp_path, now=NOW, photo_id=same)
        assert kept.pk == same
    assert CheckPhoto.objects.count() == 1
    (file,) = tmp_path.iterdir()
    assert file.name == f"{same}.jpg"
    assert hashlib.sha256(file.read_bytes()).hexdigest() == kept.sha256
