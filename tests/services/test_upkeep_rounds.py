"""Does the server make its copies by itself, once a day, and say how that went?"""

from __future__ import annotations

import time
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.utils import timezone

from batches.core.errors import NurseryError
from batches.services import checkup, copies, restore, upkeep_notes, upkeep_rounds
from batches.services.backup import BackupFailed
from batches.services.checkup import Finding
from batches.services.copies import FOLDER, MARKER, Copy, copies_in
from batches.services.upkeep_notes import CHECKUP, COPY, DRILL, STICK, noted
from batches.services.upkeep_rounds import Places, look_after
from tests.factories import NOW, TrayFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Places:
    """A data folder in which copying, drilling and looking over are quick stand-ins."""

    def make_copy(*, data: Path, photos: Path, now: datetime) -> Copy:
        folder = data / FOLDER
        folder.mkdir(exist_ok=True)
        (folder / f"frondbook-{timezone.localtime(now):%Y%m%d-%H%M%S}.zip").write_bytes(b"a copy")
        return copies_in(folder)[0]

    found = restore.Restored(file=tmp_path, sha256="", rows={"tray": 1200}, set_aside=None)
    monkeypatch.setattr(copies, "make_copy", make_copy)
    monkeypatch.setattr(restore, "drill", lambda **_: found)
    monkeypatch.setattr(checkup, "findings", lambda **_: (Finding(check="clock", ok=True),))
    return Places(data=tmp_path, photos=tmp_path / "photos", stick_roots=(tmp_path / "media",))


def made(places: Places) -> int:
    return len(copies_in(places.data / FOLDER))


def test_a_nursery_without_trays_has_nothing_to_copy(places: Places) -> None:
    look_after(places=places, now=NOW)
    assert made(places) == 0


def test_a_copy_is_made_once_a_day_and_whenever_somebody_asks(places: Places) -> None:
    TrayFactory()
    counts = []
    for hours in (0, 1, 2, 24, 25):
        look_after(places=places, now=NOW + timedelta(hours=hours))
        counts.append(made(places))
    assert counts == [1, 1, 1, 2, 2]
    look_after(places=places, now=NOW + timedelta(hours=26), copy_now=True)
    assert made(places) == 3
    found = noted(COPY)
    assert found is not None
    assert found.ok


def test_the_days_copy_goes_onto_every_stick_that_is_there(places: Places) -> None:
    TrayFactory()
    stick = places.stick_roots[0] / "green"
    stick.mkdir(parents=True)
    (stick / MARKER).touch()
    look_after(places=places, now=NOW)
    assert [one.made_at for one in copies_in(stick / "frondbook")] == [NOW.replace(microsecond=0)]
    found = noted(STICK)
    assert found is not None
    assert str(stick) in found.words


def test_a_copy_that_failed_is_tried_again_after_half_an_hour_and_told(
    places: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    TrayFactory()
    tries = []

    def fail(**_: object) -> Copy:
        tries.append(1)
        raise BackupFailed("No room.")

    monkeypatch.setattr(copies, "make_copy", fail)
    for minutes in (0, 1, 29, 31):
        look_after(places=places, now=NOW + timedelta(minutes=minutes))
    assert len(tries) == 2
    found = noted(COPY)
    assert found is not None
    assert not found.ok
    assert found.words == "No room."


def test_the_newest_copy_is_tried_out_every_week(
    places: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    TrayFactory()
    look_after(places=places, now=NOW)
    first = noted(DRILL)
    assert first is not None
    assert "1,200 rows" in first.words

    def fail(*, file: Path) -> restore.Restored:
        raise NurseryError(f"{file.name} is damaged.")

    monkeypatch.setattr(restore, "drill", fail)
    look_after(places=places, now=NOW + timedelta(days=6))
    assert noted(DRILL) == first
    look_after(places=places, now=NOW + timedelta(days=7))
    second = noted(DRILL)
    assert second is not None
    assert not second.ok


def test_what_is_amiss_with_the_machine_is_noted(
    places: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    amiss = (Finding(check="room", ok=False, advice="Make room."), Finding(check="Python", ok=True))
    monkeypatch.setattr(checkup, "findings", lambda **_: amiss)
    look_after(places=places, now=NOW)
    assert noted(CHECKUP) == upkeep_notes.Noted(at=NOW, ok=False, words="room: Make room.")


def test_the_rounds_take_up_what_was_asked_for_and_stop_when_told(
    places: Places, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[bool] = []
    monkeypatch.setattr(upkeep_rounds, "look_after", lambda *, copy_now, **_: seen.append(copy_now))
    assert not upkeep_rounds.ask_for_a_copy()
    with upkeep_rounds.rounds(places=places, clock=lambda: NOW, every=60):
        assert upkeep_rounds.ask_for_a_copy()
        until = time.monotonic() + 10
        while upkeep_rounds.a_copy_is_asked_for() and time.monotonic() < until:
            time.sleep(0.01)
    assert seen == [True]
    assert not upkeep_rounds.ask_for_a_copy()
