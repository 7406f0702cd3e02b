"""Does the manager see how old the last good copy is, and get one when it is wanted?"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest
from django.test import Client
from django.urls import reverse

from batches.services import upkeep_notes, upkeep_rounds
from batches.services.copies import FOLDER
from tests.factories import NOW, TrayFactory
from tests.views.test_register_pdf import text_of

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


@pytest.fixture
def folder(settings, tmp_path: Path) -> Path:
    """The folder of copies of a nursery with a tray."""
    settings.NURSERY_DATA = tmp_path
    TrayFactory()
    made = tmp_path / FOLDER
    made.mkdir()
    return made


def copy_of(folder: Path, moment: datetime) -> None:
    (folder / f"frondbook-{moment:%Y%m%d-%H%M%S}.zip").write_bytes(b"a copy")


def page_of(client: Client, name: str) -> str:
    return client.get(reverse(f"batches:{name}")).content.decode()


def test_a_nursery_without_a_copy_is_told_on_the_page_and_on_today(
    manager: Client, folder: Path
) -> None:
    assert "make one now" in page_of(manager, "backups")
    assert "There is no copy of the records yet." in page_of(manager, "today")


@pytest.mark.parametrize(("days", "told"), [(2.9, False), (3.1, True)])
def test_a_copy_is_told_to_be_too_old_after_three_days(
    manager: Client, folder: Path, days: float, told: bool
) -> None:
    copy_of(folder, NOW - timedelta(days=days))
    copy_of(folder, NOW - timedelta(days=40))
    (folder / "holiday.zip").write_bytes(b"not ours")
    page = page_of(manager, "backups")
    assert ("older than 3 days" in page) is told
    assert "holiday" not in page
    assert ("last good copy of the records is 3 days old" in page_of(manager, "today")) is told


def test_only_the_manager_is_told(hand: Client, office: Client, folder: Path) -> None:
    assert "no copy of the records" not in page_of(hand, "today")
    assert "no copy of the records" not in page_of(office, "today")


def test_what_went_wrong_with_stick_and_drill_and_computer_is_told(
    manager: Client, folder: Path
) -> None:
    copy_of(folder, NOW)
    upkeep_notes.note(upkeep_notes.STICK, at=NOW, ok=False, words="The stick is full.")
    upkeep_notes.note(upkeep_notes.DRILL, at=NOW, ok=False, words="It is damaged.")
    upkeep_notes.note(upkeep_notes.CHECKUP, at=NOW, ok=False, words="room on the disk: Make room.")
    upkeep_notes.note(upkeep_notes.COPY, at=NOW, ok=False, words="No room for a copy.")
    for page in (page_of(manager, "today"), page_of(manager, "backups")):
        assert "The stick is full." in page
        assert "It is damaged." in page
        assert "No room for a copy." in page
    assert "Make room." in page_of(manager, "today")


def test_a_copy_is_asked_for_where_the_server_makes_copies(
    manager: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert (
        "makes no copies by itself" in manager.post("/backups/now/", follow=True).content.decode()
    )
    monkeypatch.setattr(upkeep_rounds, "ask_for_a_copy", lambda: True)
    assert "is being made" in manager.post("/backups/now/", follow=True).content.decode()


def test_the_restore_card_names_this_nurserys_own_folder_and_the_steps(
    manager: Client, folder: Path
) -> None:
    answer = manager.get("/backups/card/")
    text = text_of(answer.content)
    for words in ("restore --drill FILE", 'signin_link "Greta Lunn"', "make install", "14 days"):
        assert words in text
    assert str(folder.parent)[-20:] in text.replace("\n", "")
