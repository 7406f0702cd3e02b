"""Does a picture from the bench arrive once, safely, and only behind its look?"""

from __future__ import annotations

import io
import json
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from PIL import Image

from batches.models import CheckPhoto, Device, TrayCheck
from batches.services import devices, standing
from batches.services.settling import settle
from tests.factories import NOW, TrayFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def picture(kind: str = "JPEG", size=(900, 600)) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (70, 140, 60)).save(out, kind)
    return out.getvalue()


def put(client, photo_id, check_id, data: bytes):
    address = reverse("batches:sync-photo", args=[photo_id])
    return client.put(f"{address}?check={check_id}", data, content_type="image/jpeg")


def logged(client, tray, **more) -> str:
    """Send a look and return its id."""
    look = {"id": str(uuid4()), "kind": "check", "tray": tray.code, "by": "Wilf",
            "occurred_at": NOW.isoformat()} | more  # fmt: skip
    body = {"sent_at": NOW.isoformat(), "items": [look]}
    client.post(reverse("batches:sync"), json.dumps(body), content_type="application/json")
    return str(look["id"])


@pytest.fixture
def tray():
    one = TrayFactory(counted=80)
    standing.refold(trays=[one], recorded_at=NOW)
    return one


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_is_stored_once_with_share_and_small_copy(tablet, tray, kind) -> None:
    look, photo_id = logged(tablet, tray), str(uuid4())
    first = put(tablet, photo_id, look, picture(kind))
    assert first.json() == {"id": photo_id, "status": "created"}
    assert put(tablet, photo_id, look, picture(kind)).json()["status"] == "duplicate"
    photo = CheckPhoto.objects.get()
    assert str(photo.check_row_id) == look
    assert photo.green_share is not None
    for name in (photo.file, f"small/{photo.file}"):
        with Image.open(Path(settings.MEDIA_ROOT) / name) as shown:
            assert shown.format == "JPEG"


def test_a_picture_before_its_look_is_kept_by_the_tablet_and_taken_later(tablet, tray) -> None:
    photo_id = str(uuid4())
    answer = put(tablet, photo_id, uuid4(), picture())
    assert answer.status_code == 404
    assert "has not arrived" in answer.json()["error"]
    assert not CheckPhoto.objects.exists()
    assert put(tablet, photo_id, logged(tablet, tray), picture()).status_code == 200


def test_a_picture_of_a_look_that_waits_is_kept_and_of_one_left_out_is_not(tablet, tray) -> None:
    early = logged(tablet, tray, occurred_at="2020-01-01T09:00:00+00:00")
    assert not TrayCheck.objects.exists()
    assert put(tablet, uuid4(), early, picture()).status_code == 404
    settle(item_id=UUID(early), how="left out", by="Greta", now=NOW)
    answer = put(tablet, uuid4(), early, picture())
    assert answer.status_code == 422
    assert "left out" in answer.json()["error"]


BAD = {
    "empty": b"",
    "cut": picture()[:200],
    "drawing": b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    "page": b"<!doctype html><script>alert(1)</script>",
    "large": b"\xff\xd8" + b"0" * (10 * 1024 * 1024),
}


@pytest.mark.parametrize("name", sorted(BAD))
def test_what_is_no_picture_is_refused_in_words_and_leaves_nothing(tablet, tray, name) -> None:
    look, photo_id = logged(tablet, tray), str(uuid4())
    answer = put(tablet, photo_id, look, BAD[name])
    assert answer.status_code == 422
    assert answer.json()["error"]
    assert not CheckPhoto.objects.exists()
    assert list(Path(settings.MEDIA_ROOT).rglob(f"*{photo_id}*")) == []


def test_a_picture_of_more_than_four_megabytes_is_taken(tablet, tray) -> None:
    noise = Image.effect_noise((2400, 2000), 90)
    out = io.BytesIO()
    noise.save(out, "PNG")
    assert 4 * 1024 * 1024 < len(out.getvalue()) < 10 * 1024 * 1024
    assert put(tablet, uuid4(), logged(tablet, tray), out.getvalue()).status_code == 200


def test_one_id_stands_for_one_picture(tablet, tray) -> None:
    photo_id = str(uuid4())
    put(tablet, photo_id, logged(tablet, tray), picture())
    assert put(tablet, photo_id, logged(tablet, tray), picture()).status_code == 422
    assert CheckPhoto.objects.count() == 1


def test_a_file_that_was_lost_is_written_again(tablet, tray) -> None:
    look, photo_id = logged(tablet, tray), str(uuid4())
    put(tablet, photo_id, look, picture())
    kept = Path(settings.MEDIA_ROOT) / CheckPhoto.objects.get().file
    kept.unlink()
    assert put(tablet, photo_id, look, picture()).json()["status"] == "duplicate"
    assert kept.is_file()


def test_without_the_looks_id_it_is_a_400_and_a_revoked_tablet_is_told(tablet) -> None:
    assert put(tablet, uuid4(), "x", picture()).status_code == 400
    devices.revoke(device=Device.objects.get(), now=NOW)
    assert put(tablet, uuid4(), uuid4(), picture()).json()["revoked"] is True


def test_a_picture_needs_the_token(tablet, tray) -> None:
    look = logged(tablet, tray)
    strict = Client(enforce_csrf_checks=True)
    strict.cookies = tablet.cookies
    assert put(strict, uuid4(), look, picture()).status_code == 403
    strict.get(reverse("batches:sync-hello"))
    token = strict.cookies[settings.CSRF_COOKIE_NAME].value
    address = f"{reverse('batches:sync-photo', args=[uuid4()])}?check={look}"
    taken = strict.put(
        address, picture(), content_type="image/jpeg", headers={"X-CSRFToken": token}
    )
    assert taken.status_code == 200
