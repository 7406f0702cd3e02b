"""Is a picture file read safely and its green share told?"""

from __future__ import annotations

import io
import json
from io import StringIO

import numpy as np
import pytest
from django.core.management import CommandError, call_command
from PIL import Image

from batches.core.cover import PhotoError
from batches.services.green_share import cover_of_bytes, cover_of_file, reckon_photo
from batches.services.photos import BadPhoto, keep_photo
from tests.factories import NOW, TrayCheckFactory

PEAT, LEAF = (84, 66, 50), (88, 128, 52)


def picture(share: float, *, size=(400, 300)) -> bytes:
    """Peat with a green strip on the left."""
    width, height = size
    pixels = np.full((height, width, 3), PEAT, dtype=np.uint8)
    pixels[:, : round(width * share)] = LEAF
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize("share", [0.0, 0.25, 0.7, 1.0])
def test_the_share_of_green_is_told(share):
    found = cover_of_bytes(data=picture(share))
    assert found.share == pytest.approx(share, abs=0.02)


def test_a_crop_looks_at_the_tray_alone(tmp_path):
    path = tmp_path / "tray.png"
    path.write_bytes(picture(0.5))
    assert cover_of_file(path=path, crop=(0, 0, 200, 300)).share == pytest.approx(1.0, abs=0.02)
    assert cover_of_file(path=path, crop=(200, 0, 200, 300)).share == pytest.approx(0.0, abs=0.02)
    with pytest.raises(PhotoError, match="does not lie inside"):
        cover_of_file(path=path, crop=(300, 0, 200, 300))


@pytest.mark.parametrize(
    "data", [b"", b"<svg/>", picture(0.5)[:60]], ids=["nothing", "a drawing", "cut short"]
)
def test_what_is_no_picture_is_refused_in_words(data, monkeypatch):
    # As the printing library leaves it, once it was loaded.
    monkeypatch.setattr("PIL.ImageFile.LOAD_TRUNCATED_IMAGES", True)
    with pytest.raises(BadPhoto, match="no JPEG, PNG or WebP"):
        cover_of_bytes(data=data)


def test_the_command_answers_in_the_agreed_form(tmp_path):
    path = tmp_path / "tray.png"
    path.write_bytes(picture(0.4))
    out = StringIO()
    call_command("cover", str(path), "--json", stdout=out)
    found = json.loads(out.getvalue())
    assert set(found) == {"share", "second_opinion", "comparable", "reason"}
    assert found["share"] == pytest.approx(0.4, abs=0.02)
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("cover", str(tmp_path / "none.png"))


@pytest.mark.django_db
def test_a_kept_photo_gets_its_share(tmp_path):
    photo = keep_photo(check=TrayCheckFactory(), data=picture(0.6), folder=tmp_path, now=NOW)
    reckon_photo(photo=photo, folder=tmp_path)
    photo.refresh_from_db()
    assert photo.green_share == pytest.approx(0.6, abs=0.03)
    assert photo.light is not None
    assert photo.light["bare"] == pytest.approx(PEAT, abs=3)
    (tmp_path / photo.file).unlink()
    assert reckon_photo(photo=photo, folder=tmp_path).green_share == photo.green_share
