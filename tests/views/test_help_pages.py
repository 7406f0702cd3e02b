"""Do help, words and about open for whoever needs them, and lead to pages that are there?"""

from __future__ import annotations

import re

import pytest
from django.urls import Resolver404, resolve

from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def test_help_names_every_key_and_says_that_nothing_is_legal_advice(hand):
    text = page(hand, "help")
    for key in ("/", "?", "Esc", "Tab"):
        assert f"<kbd>{key}</kbd>" in text
    assert "no legal or medical advice" in text


@pytest.mark.parametrize("name", ["help", "words", "about", "settings"])
def test_every_link_of_the_help_leads_somewhere(manager, name):
    main = page(manager, name).partition("<main")[2].partition("</main>")[0]
    links = re.findall(r'<a [^>]*href="(/[^"#?]*)', main)
    assert links or name == "words"
    for link in links:
        try:
            resolve(link)
        except Resolver404:  # pragma: no cover - the failure is the message
            pytest.fail(f"{name} links to {link}, which is no page")


def test_the_foot_of_every_page_leads_to_the_help_and_strangers_see_no_versions(hand, stranger):
    assert 'href="/help/"' in page(hand, "today")
    assert 'href="/help/"' not in stranger.get("/sign-in/").content.decode()
    assert stranger.get("/about/").status_code == 302
