"""Does the bench page speak the nursery's language, and do scripts hold no words?"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from batches.core.catalogues import read_catalogue
from batches.models import Person
from batches.services.bench_words import BENCH_WORDS, bench_words
from batches.services.language import CATALOGUES
from batches.services.own_settings import set_own
from tests.factories import BenchFactory, TrayFactory
from tests.views.test_german import ENGLISH

#: those of the office pages find their words in the page, beside what they say them of
SCRIPTS = sorted((Path(settings.BASE_DIR) / "static" / "js").glob("*.js"))
_COMMENT = re.compile(r"^\s*//.*$|(?<=[;,{(])\s*//.*$|/\*.*?\*/", re.MULTILINE | re.DOTALL)
_LITERAL = re.compile(r'"((?:[^"\\\n]|\\.)*)"|\'((?:[^\'\\\n]|\\.)*)\'|`((?:[^`\\]|\\.)*)`')
#: what stands in quotation marks and is read by the machine alone
_UNSEEN = re.compile(
    r'class: (?:`[^`]*`|"[^"]*")|(?:closest|querySelector|querySelectorAll|matches)\??\.?\([^)]*\)|'
    r'state: "put aside"|state === "put aside"|"put aside": \[|"use strict"'
)
_MACHINE_WORDS = {"Accept", "Content-Type", "If-None-Match", "X-CSRFToken", "ETag", "Backspace"}
_WORDS = re.compile(r"[A-Za-z’']{2,} [A-Za-z’']+|^[A-Z][a-z]+\b")


def shown_by(script: str) -> list[str]:
    """Return the pieces of English that a script would show by itself."""
    text = _UNSEEN.sub("", _COMMENT.sub("", script))
    found = []
    for match in _LITERAL.finditer(text):
        piece = re.sub(r"\$\{[^}]*\}", " ", next(one for one in match.groups() if one is not None))
        if piece.strip() not in _MACHINE_WORDS and _WORDS.search(piece.strip()):
            found.append(piece)
    return found


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_no_script_holds_words_of_its_own(path: Path) -> None:
    assert shown_by(path.read_text(encoding="utf-8")) == []


def test_words_in_a_script_would_be_found() -> None:
    assert shown_by('button("Look it over", tap)') == ["Look it over"]
    assert shown_by('el("h1", {}, "Close")') == ["Close"]
    assert shown_by("tell(`${code} is a batch`)") == ["  is a batch"]
    assert shown_by('el("div", { class: "button-row views" }, say("the_round"))') == []


def test_every_name_that_a_script_says_has_its_words() -> None:
    asked: set[str] = set()
    for path in SCRIPTS:
        text = path.read_text(encoding="utf-8")
        asked |= set(re.findall(r'\bsay\("(\w+)"', text))
        for pair in re.findall(
            r'\bsay\([^"`()]*\? "(\w+)" : (?:[^"()]*\? "(\w+)" : )?"(\w+)"', text
        ):
            asked |= {one for one in pair if one}
        asked |= {
            f"{name}_{how}"
            for name in re.findall(r'\bcounted\([^"()]+, "(\w+)"', text)
            for how in ("one", "many")
        }
    assert len(asked) > 120
    assert asked - set(BENCH_WORDS) == set()


def test_every_word_of_the_bench_page_has_its_german() -> None:
    german = {
        key
        for file in (CATALOGUES / "de").glob("*.po")
        for key in read_catalogue(file.read_text(encoding="utf-8"))
    }
    lacking = {
        english
        for english in BENCH_WORDS.values()
        if english not in german and f"bench\x04{english}" not in german
    }
    assert lacking == set()
    said = bench_words(language="de")
    assert said["the_round"] == "Der Rundgang"
    assert said["due_many"] == "{n} Durchsichten sind fällig"
    for name, english in BENCH_WORDS.items():
        assert set(re.findall(r"\{\w+\}", english)) == set(re.findall(r"\{\w+\}", said[name])), name


@pytest.mark.django_db
@pytest.mark.usefixtures("fixed_clock")
def test_the_bench_page_and_its_day_speak_the_nurserys_language(tablet, hand, hand_person) -> None:
    TrayFactory(look_due_on=None, stage="first_frond")
    Person.objects.filter(pk=hand_person.pk).update(language="de")
    english = hand.get(reverse("batches:bench-page")).content
    assert b'lang="en-GB"' in english
    assert b"The round is done" in english
    assert tablet.get("/bench/day.json").json()["stages"]["first_frond"] == "first frond"
    set_own(name="language", value="de")
    german = tablet.get(reverse("batches:bench-page")).content.decode()
    assert german == hand.get(reverse("batches:bench-page")).content.decode()
    words = re.search(r'<script id="words" type="application/json">(.*?)</script>', german)
    assert words is not None
    assert json.loads(words[1])["round_done"] == "Der Rundgang ist fertig"
    assert 'lang="de"' in german
    assert 'placeholder="Scannen"' in german
    day = tablet.get("/bench/day.json").json()
    assert day["stages"]["first_frond"] == "erster Wedel"
    assert day["trays"][0]["stage_label"] == "erster Wedel"
    assert {"word": "mould", "label": "Schimmel"} in day["signs"]


@pytest.mark.django_db
@pytest.mark.usefixtures("fixed_clock")
def test_what_scripts_say_of_office_pages_stands_in_them_in_german(manager, manager_person) -> None:
    Person.objects.filter(pk=manager_person.pk).update(language="de")
    bench = BenchFactory(name="Tisch 1", rows=3, columns=4)
    tray = TrayFactory(bench=bench, row=1, column=1, cells_of_84=True, batch__route="bought_in")
    said = re.compile(r'data-(\d{3}|other|unread|once|unsure|free|moving|over|words)="([^"]*)"')
    found: dict[str, str] = {}
    for address in (reverse("batches:bench-map"), reverse("batches:tray", args=[tray.code])):
        found |= dict(said.findall(manager.get(address).content.decode()))
    enrol = manager.post(reverse("batches:tablet-enrol"), {"name": "Tablet 4"}, follow=True)
    found |= dict(said.findall(enrol.content.decode()))
    assert {name for name, words in found.items() if ENGLISH.search(words)} == set()
    assert found["413"].startswith("Das ist zu groß")
    assert found["words"] == "etwa 0 Pflanzen"
    assert {"401", "other", "unread", "once", "unsure", "free", "moving", "over"} < set(found)
    move = {"tray": tray.code, "revision": tray.revision, "bench": bench.code}
    answer = manager.post(reverse("batches:bench-move"), move | {"row": "2", "column": "3"}).json()
    assert answer["message"] == f"{tray.code} steht jetzt auf {bench.code}, Reihe 2, Spalte 3."
    answer = manager.post(reverse("batches:bench-move"), move | {"row": "x"}).json()
    assert answer["error"].startswith("Der Platz war nicht lesbar.")
