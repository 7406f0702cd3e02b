"""Does a newcomer get from an empty nursery to the printed label of an own sowing, and how soon?

Every click, every field filled in and every choice counts as one interaction, the opening of the
one-time link too; no address is typed and no command line used. The bar is 40.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.visitor import Visitor, visitor
from tests.running_nursery import RunningNursery

#: what was promised to newcomers
MOST_INTERACTIONS = 40
#: where pictures of each step go, to be looked at; nowhere unless it is set
PICTURES = os.environ.get("NURSERY_PICTURES", "")


class Newcomer:
    """A manager on the first day, whose clicks and fields are counted."""

    def __init__(self, person: Visitor) -> None:
        self.person = person
        self.interactions = 0
        self.steps = 0

    def arrives_at(self, heading: str) -> None:
        """See the heading of a page, and take its picture at three sizes where that is asked."""
        page = self.person.page
        expect(page.get_by_role("heading", level=1)).to_contain_text(heading)
        self.steps += 1
        if not PICTURES:
            return
        for name, size in {"desk": (1280, 800), "tablet": (1024, 768), "phone": (360, 740)}.items():
            page.set_viewport_size({"width": size[0], "height": size[1]})
            file = Path(PICTURES) / f"{self.steps:02d}-{name}.png"
            page.screenshot(path=str(file), full_page=True)
        page.set_viewport_size({"width": 1280, "height": 800})

    def opens(self, address: str) -> None:
        self.interactions += 1
        self.person.page.goto(address)

    def press(self, words: str) -> None:
        self.interactions += 1
        self.person.press(words)

    def follow(self, words: str) -> None:
        self.interactions += 1
        self.person.follow(words)

    def fill(self, label: str, words: str) -> None:
        self.interactions += 1
        self.person.field(label).fill(words)

    def choose(self, label: str, *, value: str) -> None:
        self.interactions += 1
        self.person.field(label).select_option(value)

    def tick(self, label: str) -> None:
        self.interactions += 1
        self.person.main.get_by_label(label).first.check()


@pytest.fixture
def newcomer(
    chromium: Any, nursery: RunningNursery, request: pytest.FixtureRequest
) -> Iterator[Newcomer]:
    """Somebody before the browser of an empty nursery."""
    with visitor(chromium, nursery, request) as person:
        yield Newcomer(person)


def test_from_an_empty_nursery_to_a_printed_label(
    newcomer: Newcomer, nursery: RunningNursery
) -> None:
    page = newcomer.person.page
    link = re.search(r"http\S+/sign-in/\S+/", nursery.read_on(seconds=20, awaited="/sign-in/"))
    assert link is not None, "serve prints a one-time link while nobody has signed in yet"
    newcomer.opens(link.group())
    newcomer.arrives_at("Sign in")
    newcomer.press("Sign in")
    newcomer.arrives_at("Today")
    expect(page.get_by_role("heading", name="The first season, in order")).to_be_visible()

    newcomer.follow("Draw the first house")
    newcomer.arrives_at("New house")
    newcomer.fill("Code", "MIST")
    newcomer.press("Store the house")
    newcomer.fill("Code", "M1")
    newcomer.fill("Rows", "3")
    newcomer.fill("Columns", "8")
    newcomer.fill("Benches like this", "3")
    expect(page.locator("#draft")).to_contain_text("3 × 8: 24 places")
    newcomer.arrives_at("New bench")
    newcomer.press("Store the bench")
    newcomer.arrives_at("Houses and benches")
    expect(page.locator("main")).to_contain_text("M3")

    newcomer.follow("Pick your ferns from the list")
    newcomer.arrives_at("Ferns to pick from")
    for fern in ("Dryopteris filix-mas", "Asplenium scolopendrium", "Osmunda regalis"):
        newcomer.tick(fern)
    newcomer.press("Store the ticked ferns")
    newcomer.arrives_at("Ferns")
    expect(page.locator("main")).to_contain_text("hart's-tongue")

    newcomer.follow("Add who works here")
    newcomer.fill("Name", "Bryn Hale")
    newcomer.press("Add")
    newcomer.arrives_at("People")

    newcomer.follow("Write down the first lot")
    newcomer.arrives_at("New origin")
    newcomer.choose("Fern", value="DRYFIL")
    newcomer.tick("stock plant")
    newcomer.tick("origin not known")
    newcomer.press("Store the origin")
    newcomer.arrives_at("New lot")
    newcomer.press("Store the lot")
    newcomer.arrives_at("Lot")
    newcomer.follow("Sow it")
    newcomer.arrives_at("From spores")
    newcomer.press("Sow it")
    newcomer.arrives_at("Batch")
    newcomer.follow("Print the labels")
    newcomer.arrives_at("Labels")
    with page.expect_response(lambda answer: answer.request.method == "POST") as told:
        newcomer.press("Make the labels")
    assert told.value.status == 200
    assert told.value.headers["content-type"] == "application/pdf"
    assert newcomer.interactions <= MOST_INTERACTIONS, newcomer.interactions

    # The steps are done: the page is a morning note from now on.
    page.goto("/")
    expect(page.locator("#first-steps")).to_have_count(0)
