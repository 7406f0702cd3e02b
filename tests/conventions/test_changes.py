"""Is whatever people may change at a desk noted, or is it a row that says so itself?

A new page that takes a form gets its line here. What is noted is listed by the words of its note.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.test import Client

import batches
from batches.urls import urlpatterns
from tests.views.test_access import RULES, path_of

VIEWS, SERVICES = (Path(batches.__file__).parent / name for name in ("views", "services"))

#: addresses whose forms add rows that carry who and when, and that the database guards
EVENTS = {
    "today-nothing-new", "today-undo-look", "today-care", "bench-move", "look-over", "tray-strike",
    "prick-out", "patch-out", "pot-up", "pot-on", "tray-deed", "tray-small-deed", "select-form",
    "sync", "hold", "hold-new", "hold-lift", "tray", "passport-spoiled", "round-sheet-enter",
}  # fmt: skip
#: addresses whose forms make a new thing, or a row of a register with who and when, and change none
NEW_THINGS = {
    "lot-new", "lot", "sow-route", "fern-new", "starter-ferns", "house-new", "bench-new",
    "stock-plant-new", "medium-new", "order-new", "treatment-new", "treatment-mend",
    "examination-new", "readings", "laid-out", "give-back", "batch", "stock-plant", "drill",
    "drills", "labels", "label-stock-new", "sowing-plan", "sowing-drop", "today-give",
}  # fmt: skip
#: addresses whose forms store nothing of the nursery's
KEPT_NOWHERE = {
    "my-language",
    "prove",
    "enrol-typed", "records", "sync-person", "sowing-book", "sowing-book-columns",
    "sowing-book-ferns",
}  # fmt: skip
#: address → the words of its note
NOTED = {
    "sign-in": "signed in", "sign-in-link": "signed in", "sign-out": "signed out",
    "my-password": "password chosen", "my-pin": "PIN set", "person-badge": "badge made",
    "enrol": "tablet enrolled", "people": "role given", "person-link": "sign-in link made",
    "person-stop": "person stopped", "person-rename": "person renamed",
    "settings": "settings changed", "fern-edit": "fern changed",
    "fern-windows": "own days set", "durations-adopt": "own days adopted",
    "house-edit": "house changed", "bench-edit": "bench changed",
    "stock-plant-edit": "origin changed", "label-stock-edit": "label stock stored",
    "order-close": "order closed", "records-preview": "records imported",
    "records-export": "records exported", "backup-now": "copy asked for",
    "to-settle": "settled", "labels-run": "labels printed", "label-stock-use": "label stock in use",
    "orders": "orders closed", "tablet-enrol": "tablet code made",
    "tablet-revoke": "tablet revoked", "passport-settings": "passport terms set",
    "tablet-file": "saved file taken in",
    "my-calendar": "calendar address made", "settle-correct": "settled",
}  # fmt: skip


def test_the_words_of_every_note_stand_in_the_views() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in VIEWS.glob("*.py"))
    noted = set(re.findall(r'note\(\s*request,\s*"([^"]+)"', source))
    for service in ("settling", "label_log"):
        noted |= set(re.findall(r'what="([^"]+)"', (SERVICES / f"{service}.py").read_text("utf-8")))
    noted |= set(re.findall(r'else "([^"]+)",\n', source))
    assert {words for words in NOTED.values() if words not in noted} == set()


@pytest.mark.django_db
def test_every_address_that_takes_a_form_is_listed(manager: Client) -> None:
    listed = EVENTS | NEW_THINGS | KEPT_NOWHERE | set(NOTED)
    missing = [
        name
        for full in RULES
        if (name := full.removeprefix("batches:")) not in listed
        and manager.post(path_of(full)).status_code != 405
    ]
    assert " ".join(missing) == ""


def test_every_line_is_about_an_address_that_is_there() -> None:
    names = {pattern.name for pattern in urlpatterns}
    kinds = (EVENTS, NEW_THINGS, KEPT_NOWHERE, set(NOTED))
    assert set().union(*kinds) - names == set()
    assert sum(map(len, kinds)) == len(set().union(*kinds))
