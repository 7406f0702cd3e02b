"""Do the README's tour and the page for developers speak of things that are there?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

from batches.views.page_frame import _PAGES

ROOT = Path(settings.BASE_DIR)
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
#: where a path may begin that the page for developers names in short
BEGINNINGS = ("", "batches/", "tests/", "batches/core/", "batches/labels/", "templates/batches/",
              "batches/services/")  # fmt: skip
NAMED = sorted(
    {
        word
        for word in re.findall(r"`([A-Za-z_./-]+)`", DEVELOPERS)
        if re.search(r"\.(py|md|js|csv|svg)$|/$", word) and not word.startswith("make ")
    }
)


@pytest.mark.parametrize("path", NAMED)
def test_a_path_named_for_developers_is_there(path: str) -> None:
    there = any((ROOT / begins / path).exists() for begins in BEGINNINGS)
    if "/" not in path:  # a module or script beside one named in full
        there = there or any(any((ROOT / top).rglob(path)) for top in ("batches", "static"))
    assert there, path


def test_the_page_for_developers_is_one_page_and_answers_what_newcomers_ask() -> None:
    """Where a stage, a label stock and a report are added, and where overdue is decided."""
    page, _, departures = DEVELOPERS.partition("## Departures from ASVS")
    assert len(page.splitlines()) <= 125
    assert len(departures.splitlines()) <= 15
    assert len(NAMED) > 20
    for words in ("**a stage**", "**a label stock**", "**a report**", "`batches/core/lateness.py`"):
        assert words in DEVELOPERS, words


def test_every_file_and_picture_that_the_readme_leads_to_is_there() -> None:
    led_to = re.findall(r"\]\(([^)#:]+)\)", README)
    assert len(led_to) > 4
    assert [path for path in led_to if not (ROOT / path).exists()] == []


def test_the_tour_names_the_pages_as_their_menu_does() -> None:
    """A page that is renamed or goes is renamed in the tour, too."""
    tour = README.partition("## A tour")[2].partition("\n## ")[0]
    menu = {word.casefold() for _, word, _, _ in _PAGES}
    told = {
        name.strip().casefold()
        for bold in re.findall(r"^- \*\*(.+?)\*\*", tour, re.MULTILINE)
        for name in bold.split(",")
    }
    not_in_menu = {
        "a tray's page", "prick out", "patch out", "pot up", "pot on", "help",
        "what do the failing trays share?",
    }  # fmt: skip
    assert told - menu - not_in_menu == set()
    assert len(told & menu) >= 8
