"""Are English sentences said in German, with their places, their days and their names kept?"""

from __future__ import annotations

import gettext
import os
from pathlib import Path

import pytest

from batches.services import language
from batches.services.language import CATALOGUES, LANGUAGES, compile_catalogues, said

TRIAL = {
    "yesterday": "gestern", "{n} days ago": "vor {n} Tagen", "a cell tray": "eine Zellplatte",
    "Last looked at {when}; {kept} is looked at every {n} days.":
        "Zuletzt angesehen {when}; {kept} wird alle {n} Tage angesehen.",
    "by {name} on {day}": "von {name} am {day}",
    "Seen on {day} by {name}.": "Gesehen am {day} von {name}.",
    "{clause}.": "{clause}.",
    "Protected: {clause}.": "Geschützt: {clause}.",
    "It is late.": "Sie ist überfällig.",
    "It is ready.": "Sie ist verkaufsfertig.",
    "row{n}": "Reihe{n}", "{a}, {b}": "{a}, {b}",
    "It holds {number} spores a mL, {k}%.": "Sie enthält {number} je ml, {k} %.",
    "Nov": "Nov.", "Tue": "Di", "wk": "KW", "%(day)s %(month)s": "%(day)s. %(month)s",
}  # fmt: skip


@pytest.fixture
def trial(monkeypatch: pytest.MonkeyPatch) -> None:
    """A small catalogue in the place of the German one."""
    monkeypatch.setattr(language, "catalogue_of", lambda code: TRIAL if code == "de" else {})
    language.sentences_of.cache_clear()


@pytest.fixture(autouse=True)
def forget() -> object:
    """Keep nothing of a trial."""
    yield None
    language.sentences_of.cache_clear()


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("yesterday", "gestern"),
        ("12 days ago", "vor 12 Tagen"),
        ("Last looked at 3 days ago; a cell tray is looked at every 7 days.",
         "Zuletzt angesehen vor 3 Tagen; eine Zellplatte wird alle 7 Tage angesehen."),
        ("Tue 24 Nov 2026 (wk 48)", "Di 24. Nov. 2026 (KW 48)"),
        ("24 Nov", "24. Nov."),
        ("row3", "Reihe3"),
        ("T-073, a cell tray, yesterday", "T-073, eine Zellplatte, gestern"),
        ("a cell tray, quite full", "a cell tray, quite full"),
        ("It holds 5,200.5 spores a mL, 9%.", "Sie enthält 5.200,5 je ml, 9 %."),
        ("It holds many spores a mL, 9%.", "It holds many spores a mL, 9%."),
        ("Tue 24 Nov 2026, 09:12", "Di 24. Nov. 2026, 09:12"),
        ("by Bryn Hale on 24 Nov 2026", "von Bryn Hale am 24. Nov. 2026"),
        ("It is late. Seen on 24 Nov by Bryn Hale. It is ready.",
         "Sie ist überfällig. Gesehen am 24. Nov. von Bryn Hale. Sie ist verkaufsfertig."),
        ("by Bryn Hale on a day in May 2026", "by Bryn Hale on a day in May 2026"),
        ("Protected: by law. It is late.", "Geschützt: by law. Sie ist überfällig."),
        ("It is late. Nobody knows why.", "It is late. Nobody knows why."),
        ("nothing of the kind", "nothing of the kind"),
        ("", ""),
    ],
)  # fmt: skip
def test_a_sentence_is_said_with_what_stands_in_its_places(
    trial: None, english: str, german: str
) -> None:
    assert said(english, language="de") == german
    assert said(english, language="en-gb") == english


def test_the_german_catalogue_keeps_every_place_of_a_sentence() -> None:
    import re

    for english, german in language.catalogue_of("de").items():
        places = re.findall(r"\{\w+\}|%\(\w+\)[sd]", english.replace("\x00", " "))
        for place in set(places):
            assert place in german, (english, place)
        assert german.strip(), english


def test_catalogues_are_compiled_where_they_are_newer_and_read_by_gettext(tmp_path: Path) -> None:
    compile_catalogues(tmp_path)
    for code in LANGUAGES:
        if not (CATALOGUES / code).exists():
            continue
        made = tmp_path / code / "LC_MESSAGES" / "django.mo"
        with made.open("rb") as file:
            words = gettext.GNUTranslations(file)
        assert words.gettext("Today") == "Heute"
        before = made.stat().st_mtime_ns
        compile_catalogues(tmp_path)
        assert made.stat().st_mtime_ns == before
        os.utime(made, (0, 0))
        compile_catalogues(tmp_path)
        assert made.stat().st_mtime_ns > before - 10**12


def test_the_index_of_sentences_leaves_out_none_that_fits() -> None:
    sentences = sorted(
        (pair for pairs in language.sentences_of("de").values() for pair in pairs),
        key=lambda pair: pair[0],
    )
    asked = [
        *(english.split("\x00")[-1] for english in list(language.catalogue_of("de"))[::6]),
        "12 days ago", "31 trays here", "by Bryn Hale", "late 3 days", "nothing of the kind",
    ]  # fmt: skip
    for text in asked:
        naive = [(pattern, words) for _, pattern, words in sentences if pattern.fullmatch(text)]
        found = [
            (pattern, words)
            for pattern, words in language._that_may_fit(text, language="de")
            if pattern.fullmatch(text)
        ]
        assert found == naive, text
