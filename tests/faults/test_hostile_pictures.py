"""Is what is no picture refused in words, and what hides in one made harmless?"""

from __future__ import annotations

import io
import struct
import uuid
import zipfile
import zlib
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from PIL import Image

from batches.models import CheckPhoto
from tests.factories import TrayCheckFactory
from tests.services.test_photos import picture

pytestmark = [pytest.mark.django_db, pytest.mark.faults, pytest.mark.usefixtures("fixed_clock")]


def huge_png(side: int) -> bytes:
    """A PNG that says it has so many pixels a side and holds none (PNG specification, 11.2.2)."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        sealed = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + sealed

    head = struct.pack(">IIBBBBB", side, side, 8, 2, 0, 0, 0)
    body = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + body


def animated() -> bytes:
    out = io.BytesIO()
    frames = [Image.new("P", (20, 20), number) for number in range(3)]
    frames[0].save(out, "GIF", save_all=True, append_images=frames[1:])
    return out.getvalue()


WHOLE = picture()
NONE_OF_THEM = {
    "nothing": b"",
    "a line of text": b"a photo, honestly",
    "a drawing with a script": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "a page": b"<!doctype html><script>alert(1)</script>",
    "20,000 by 20,000": huge_png(20_000),
    "10,000 by 10,000": huge_png(10_000),
    "2 thousand million by as many": huge_png(2**31 - 1),
    "an animation": animated(),
    "a zip": b"PK\x03\x04" + b"\0" * 400,
    "a program": b"\x7fELF" + b"\0" * 400,
    "only the beginning of a JPEG": b"\xff\xd8\xff\xe0",
    "a JPEG's end alone": b"\xff\xd9" * 50,
    **{f"a JPEG cut at {share} %": WHOLE[: len(WHOLE) * share // 100] for share in (5, 30, 60, 90)},
    "a JPEG of noise": WHOLE[:300] + bytes(range(256)) * 8,
    "11 MB": WHOLE + b"\0" * (11 * 1024 * 1024),
}


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def put(tablet: Client, data: bytes, photo: object = None) -> Any:
    look = TrayCheckFactory()
    address = f"/sync/photos/{photo or uuid.uuid4()}?check={look.pk}"
    return tablet.put(address, data, content_type="image/jpeg")


@pytest.mark.parametrize("name", sorted(NONE_OF_THEM))
def test_what_is_no_picture_is_refused_in_words_and_leaves_nothing(
    name: str, tablet: Client, folder: Path
) -> None:
    answer = put(tablet, NONE_OF_THEM[name])
    assert 400 <= answer.status_code < 500
    assert "The look is stored" in answer.json()["error"]
    assert not CheckPhoto.objects.exists()
    assert [file for file in folder.rglob("*") if file.is_file()] == []


def test_what_hangs_on_behind_a_picture_does_not_come_along(tablet: Client, folder: Path) -> None:
    hidden = io.BytesIO()
    with zipfile.ZipFile(hidden, "w") as packed:
        packed.writestr("page.html", "<script>alert(1)</script>")
    assert put(tablet, WHOLE + hidden.getvalue()).status_code == 200
    (file,) = folder.glob("*.jpg")
    kept = file.read_bytes()
    assert b"PK" not in kept[-200:]
    assert b"script" not in kept
    assert not zipfile.is_zipfile(file)


@pytest.mark.parametrize("name", ["../../x", "x" * 400, "%00", "a.jpg"])
def test_a_photo_is_named_by_its_id_alone(name: str, tablet: Client, folder: Path) -> None:
    assert put(tablet, WHOLE, name).status_code in {400, 404}
    assert list(folder.rglob("*.jpg")) == []
