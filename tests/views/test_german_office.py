"""Is no English word left on the pages of the office: labels, people, tablets, records, numbers?"""

from __future__ import annotations

import json
import re
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from batches.labels.from_records import tray_labels
from batches.models import Device, Person, ToSettle
from batches.services.change_notes import note_change
from batches.services.own_settings import set_own
from tests.factories import NOW, TODAY, BenchFactory, DeviceFactory, TrayCheckFactory, TrayFactory
from tests.views.test_german import ENGLISH, english_in

TEMPLATES = Path(settings.BASE_DIR) / "templates" / "batches"
FOLDERS = (
    "labels", "label_stocks", "people", "enrol", "tablets", "bench", "sign_in", "records",
    "settings", "help", "paper", "to_settle", "setup", "changes", "backups", "calendars",
    "durations", "survival",
)  # fmt: skip
#: more words that no German sentence holds; codes of licences are names
MORE_ENGLISH = re.compile(
    ENGLISH.pattern + r"|\b(no|none|your|it|this|that|has|have|were|will|be|or|if|one|new|labels|"
    r"print|make|made|open|save|store|stored|kept|people|count|note|day|stage|bench|house|batch|"
    r"more|only|nothing|yet|again|who|what|where|back|take|taken)\b",
    re.IGNORECASE,
)
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def english(answer) -> list[str]:
    """Return what is left in English on a page; licences are named as they name themselves."""
    licence = re.compile(r"BSD|Apache|License")
    return [text for text in english_in(answer, MORE_ENGLISH) if not licence.search(text)]


def test_the_pages_of_the_office_are_marked() -> None:
    for folder in FOLDERS:
        texts = [path.read_text(encoding="utf-8") for path in (TEMPLATES / folder).glob("*.html")]
        assert any("{% translate" in text for text in texts), folder


@pytest.fixture
def german(manager, manager_person, tablet):
    """A manager who reads German, in a nursery whose tablets speak it, with something of all."""
    Person.objects.filter(pk=manager_person.pk).update(language="de")
    set_own(name="language", value="de")
    bench = BenchFactory(name="Tisch 1", rows=3, columns=4, house__name="Haus 1")
    fern = {"batch__taxon__common_name": "Wurmfarn", "container": "Schale"}
    for days in (30, 60, 90):
        tray = TrayFactory(bench=bench, counted=40, unit="patches", look_due_on=TODAY, **fern)
        TrayCheckFactory(tray=tray, seen_at=NOW - timedelta(days=1), by="Bryn Hale", signs="mould")
        tray = TrayFactory(cells_of_84=True, counted=80, batch__route="bought_in", **fern)
        TrayCheckFactory(tray=tray, seen_at=NOW - timedelta(days=days), by="Bryn Hale")
    Device.objects.update(name="Tablet 1")
    DeviceFactory(name="Tablet 3", revoked_at=NOW)
    DeviceFactory(name="Tablet 2", waiting=3, last_seen_at=NOW - timedelta(days=4))
    for kind, more in (
        ("check", {"count": 900, "signs": ["mould"]}),
        ("move", {"bench": "NIRGENDS"}),
        ("prick_out", {"quantity": 900, "trays": [{"quantity": 12}]}),
    ):
        item = {"id": str(uuid4()), "device_seq": 1, "kind": kind, "tray": tray.code,
                "by": "Wilf Arden", "occurred_at": NOW.isoformat()} | more  # fmt: skip
        tablet.post(
            reverse("batches:sync"),
            json.dumps({"sent_at": NOW.isoformat(), "items": [item]}),
            content_type="application/json",
        )
    note_change(what="role given", now=NOW, by="Greta Lunn", device="Tablet 2", about="Bryn Hale")
    return manager


def test_no_english_word_is_left_on_the_pages_of_the_office(german, stranger, manager_person):
    tray = TrayFactory(counted=12)
    names = ("labels", "labels-log", "label-stocks", "label-stock-new", "people", "tablets",
             "my-password", "my-pin", "my-calendar", "records", "settings", "help", "words",
             "about", "round-sheet-enter", "to-settle", "changes", "backups", "durations",
             "survival", "forecast-back-test", "bench-page")  # fmt: skip
    pages = [reverse(f"batches:{name}") for name in names]
    pages += [
        reverse("batches:labels") + f"?tray={tray.code}",
        reverse("batches:labels") + "?unlabelled=yes",
        reverse("batches:person-badge", args=[manager_person.pk]),
        reverse("batches:person-rename", args=[manager_person.pk]),
        reverse("batches:durations") + f"?fern={tray.batch.taxon.code}",
        reverse("batches:survival") + "?by=lot",
        reverse("batches:round-sheet-enter") + f"?on={TODAY}&by=Bryn&code={tray.code}",
        reverse("batches:round-sheet-enter") + f"?on={TODAY}&by=Bryn&code=NICHTS",
        *(reverse("batches:settle-correct", args=[one.pk]) for one in ToSettle.objects.all()),
    ]
    left = {address: words for address in pages if (words := english(german.get(address)))}
    for name in ("sign-in", "enrol-typed", "setup"):
        address = reverse(f"batches:{name}")
        left |= {address: words} if (words := english(stranger.get(address))) else {}
    assert left == {}


def test_no_english_word_is_left_where_something_is_refused_or_shown_once(german, stranger):
    person = Person.objects.create_user("Wilf Arden", role="hand")
    tray = TrayFactory(counted=12)
    stock = reverse("batches:label-stock-new")
    file = SimpleUploadedFile("houses.csv", b"code\n,,\n")
    posts: list[tuple[str, list[Any], dict[str, Any]]] = [
        ("people", [], {"name": " ", "role": "hand"}),
        ("people", [], {"name": "Greta Lunn", "role": "hand"}),
        ("person-link", [person.pk], {}),
        ("person-rename", [person.pk], {"name": "Greta Lunn"}),
        ("person-rename", [person.pk], {"name": "Wilf Arder"}),
        ("person-badge", [person.pk], {"what": "badge"}),
        ("person-badge", [person.pk], {"what": "pin", "pin": "123456"}),
        ("tablet-enrol", [], {"name": "Tablet 4"}),
        ("tablet-enrol", [], {"name": ""}),
        ("tablet-file", [], {}),
        ("settings", [], {"label_address": "nirgends", "lan_name": "a b", "lan_address": "x",
                          "frost_c": "90", "hot_c": ""}),
        ("labels", [], {"codes": "", "kind": "tray", "stock": "a4-24", "copies": "0"}),
        ("labels", [], {"codes": "NICHTS", "kind": "tray", "stock": "a4-24", "copies": "1",
                        "start_at": "1", "page": "yes"}),
        ("labels", [], {"codes": tray.code, "kind": "tray", "stock": "a4-24", "copies": "1",
                        "start_at": "1", "do": "look"}),
        ("records", [], {"chosen": [file]}),
        ("records", [], {}),
        ("my-pin", [], {"pin": "111111"}),
        ("my-password", [], {"new": "kurz"}),
        ("my-calendar", [], {"do": "make"}),
        ("settle-correct", [ToSettle.objects.order_by("pk")[0].pk],
         {"tray": "", "at": "", "count": "-1"}),
    ]  # fmt: skip
    left: dict[str, list[str]] = {}
    for name, args, fields in posts:
        answer = german.post(reverse(f"batches:{name}", args=args), fields, follow=True)
        left |= {f"{name} {fields}": words} if (words := english(answer)) else {}
    answer = german.post(stock, {"title": "", "label_width": "-1", "columns": "0"})
    left |= {stock: words} if (words := english(answer)) else {}
    for name, fields in (
        ("sign-in", {"name": "Greta Lunn", "password": "falsch"}),
        ("enrol-typed", {"code": "falsch"}),
    ):
        answer = stranger.post(reverse(f"batches:{name}"), fields)
        left |= {name: words} if (words := english(answer)) else {}
    for address in ("/sign-in/falsch/", "/enrol/falsch/", "/gibt-es-nicht/"):
        answer = stranger.get(address)
        left |= {address: words} if (words := english(answer)) else {}
    assert left == {}


def test_labels_and_calendars_speak_the_nurserys_language(german, stranger, manager_person):
    sown = TrayFactory(code="3-26W14-073-K", batch__started_on=TODAY, control=True)
    (row,) = tray_labels(codes=[sown.code], address="https://ferns.home.arpa").rows
    assert row.sown_text == "ausgesät Mi 10. Juni 2026 (KW 24)"
    assert (row.lot_word, row.tray_word) == ("Partie", "Schale")
    assert row.extra_lines == ("Kontrolle, unbesät",)
    address = german.post(reverse("batches:my-calendar"), {"do": "make"})
    path = re.search(r"/calendar/[\w-]+\.ics", address.content.decode())
    assert path is not None
    feed = stranger.get(path[0]).content.decode().replace("\r\n ", "")
    assert "Durchsichten fällig" in feed
    assert not re.search(r"\b(looks|due|ready|expected|overdue)\b", feed.replace("looks-", ""))
