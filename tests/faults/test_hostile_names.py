"""Are names and notes shown as the text they are, whatever somebody wrote into them?

Every free text that is stored is set to what people and attackers write, every address is opened,
and what comes back is read as its reader would: a browser's parser, a spreadsheet, a calendar,
a printed sheet.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.test import Client
from django.urls import NoReverseMatch, reverse

from batches.labels import print_labels
from batches.labels.stocks import STOCKS
from batches.models import Person
from batches.services.calendars import make_address
from batches.services.records_io.guarding import unguarded
from tests.factories import NOW
from tests.faults.conftest import Turns
from tests.labels.examples import pot
from tests.labels.paper import PRINTER, words
from tests.views.test_access import NAMED
from tests.views.test_prints_fetch_nothing import a_nursery, poison

pytestmark = [
    PRINTER, pytest.mark.django_db, pytest.mark.faults, pytest.mark.usefixtures("fixed_clock")
]  # fmt: skip

#: NUL is no text to PostgreSQL and goes no further than the door: tests/views/test_any_input.py
TEXTS = (
    "<script>alert(77)</script>",
    "'\"><img src=x onerror=alert(77)>",
    "{{ 711|add:7000 }}",
    "{% load static %}{{ 711|add:7000 }}",
    '=HYPERLINK("http://a.example","y")',
    "+1+1",
    "-2+3",
    "@SUM(1)",
    "\t=1+1",
    "two\r\nEND:VCALENDAR",
    "\u202eevil\u202c",
    "🌿🦠👩🏽\u200d🌾",
    "https://a.example/javascript:alert(77)",
    "note " * 98,  # as long as a note may be; 11,000 letters: tests/views/test_any_input.py
)
#: what the template language would make of the third and fourth
RECKONED = "7711"
#: these end a session or make much
LEFT_OUT = {"batches:sign-out", "batches:labels-run", "batches:labels-run-pdf"}


class Browser(HTMLParser):
    """Reads a page as a browser does: its text, and whatever would run."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.text: list[str] = []
        self.runs: list[str] = []
        self._in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self._in_script = tag == "script" and given.get("type") != "application/json"
        self.runs += [name for name in given if name.startswith("on")]
        self.runs += [value for value in given.values() if value.strip().startswith("javascript:")]
        self.text += given.values()

    def handle_data(self, data: str) -> None:
        self.text.append(data)
        if self._in_script and data.strip():
            self.runs.append(data)
        self._in_script = False


def codes() -> list[str]:
    """Give every code and number by which a page may ask for something that is there."""
    found: list[str] = []
    for model in apps.get_app_config("batches").get_models():
        one = model._default_manager.first()
        if one is not None:
            found.append(str(getattr(one, "code", one.pk)))
    return list(dict.fromkeys(found))


def opened(name: str, client: Client) -> list[tuple[str, Any]]:
    """Open an address of this name; where it takes a code, the first with which something opens."""
    parts = NAMED[name].pattern.converters
    for code in codes() if parts else [""]:
        try:
            path = reverse(name, kwargs=dict.fromkeys(parts, code))
        except NoReverseMatch:
            continue
        answer = client.get(path)
        assert answer.status_code < 500, path
        if answer.status_code == 200:
            return [(path, answer)]
    return []


def read_csv(data: bytes, *, for_people: bool = True) -> set[str]:
    """Give what a spreadsheet shows, and fail where it would reckon."""
    shown = set()
    for row in csv.reader(io.StringIO(data.decode("utf-8-sig"))):
        for cell in row:
            if for_people and cell[:1] in tuple("=+-@\t\r"):
                float(cell)  # a number may begin so, nothing else
            shown.add(unguarded(cell))
    return shown


def read_calendar(data: bytes) -> str:
    """Give a calendar's text; an entry cannot end it, nor begin a line of its own (RFC 5545)."""
    lines = data.decode().replace("\r\n ", "").split("\r\n")
    assert lines.count("END:VCALENDAR") == 1
    assert all("\r" not in line and "\n" not in line for line in lines)
    return "\n".join(lines).replace("\\,", ",").replace("\\;", ";")


def read(answer: Any, folder: Path) -> str:
    """Give the text that an answer shows to whoever it is for."""
    kind = answer.headers.get("Content-Type", "").partition(";")[0]
    data = b"".join(answer.streaming_content) if answer.streaming else answer.content
    if kind == "text/html":
        browser = Browser()
        browser.feed(data.decode())
        assert browser.runs == []
        return "\n".join(browser.text)
    if kind == "text/csv":
        return "\n".join(read_csv(data))
    if kind == "text/calendar":
        return read_calendar(data)
    if kind == "application/json":
        return json.dumps(json.loads(data), ensure_ascii=False)
    if kind == "application/zip":
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            files = {name: packed.read(name) for name in packed.namelist()}
        people = "meta.xml" not in files  # a Darwin Core archive is for programs, exactly as it is
        tables = [read_csv(files[one], for_people=people) for one in files if one.endswith(".csv")]
        return "\n".join("\n".join(table) for table in tables)
    if kind == "application/pdf":
        file = folder / "printed.pdf"
        file.write_bytes(data)
        return words(file)
    return ""


def bare(text: str) -> str:
    """Give a text without its white space, which pages and prints lay out anew."""
    return "".join(text.split())


#: so many of the texts at least are seen in answers of this kind (long notes are shortened)
SEEN_IN = {
    "text/html": len(TEXTS) - 1,
    "text/csv": 5,
    "application/zip": 5,
    "application/pdf": 5,
    "text/calendar": 1,
}


def test_hostile_names_and_notes_are_text_on_every_page_in_every_file_and_in_every_print(
    manager: Client, transactional_db: None, tmp_path: Path, turns: Turns
) -> None:
    a_nursery()
    manager.raise_request_exception = False
    person = Person.objects.get(role="manager")
    feed = reverse("batches:calendar", args=[make_address(person=person, now=NOW)])
    seen: dict[str, set[str]] = {}
    for turn in turns(1, len(TEXTS)):
        assert poison(TEXTS[5 * turn % 14 :] + TEXTS[: 5 * turn % 14]) > 25
        answers = [(feed, manager.get(feed))]
        answers += [one for name in sorted(set(NAMED) - LEFT_OUT) for one in opened(name, manager)]
        for path, answer in answers:
            assert answer.status_code == 200, path
            text = read(answer, tmp_path)
            assert RECKONED not in text, path
            kind = answer.headers.get("Content-Type", "").partition(";")[0]
            found = seen.setdefault(kind, set())
            found |= {one for one in TEXTS if bare(one) in bare(text)}
        assert len(answers) > 100
    assert {kind: len(seen[kind]) >= least for kind, least in SEEN_IN.items()} == dict.fromkeys(
        SEEN_IN, True
    ), seen


def test_hostile_names_are_text_on_labels(tmp_path: Path) -> None:
    short = [text for text in TEXTS[:8] if len(text) < 40]
    rows = [replace(pot(73), name_runs=((text, True),)) for text in short]
    file = tmp_path / "labels.pdf"
    print_labels(rows, STOCKS["a4-24"], output=file)
    printed = bare(words(file))
    assert [text for text in short if bare(text) not in printed] == []
    assert RECKONED not in printed
