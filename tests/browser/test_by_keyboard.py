"""Can one sow, log a look and prick out by the keyboard alone, and see where one is?

Nothing here clicks: Tab moves, letters and arrows choose, Space ticks, Enter presses. At every
stop the thing that has the focus has to show it. Source: WCAG 2.2, 2.1.1 and 2.4.7.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.addresses import codes_of
from tests.browser.visitor import visitor
from tests.running_nursery import PreparedNursery, RunningNursery

MOST_STOPS = 150
#: what has the focus: whether it shows that, and its words as a label, a name or a text
FOCUSED = """() => {
  const here = document.activeElement;
  if (!here || here === document.body) return null;
  const seen = here.matches("input[type=radio], input[type=checkbox]")
    ? here.closest("label") || here : here;
  // The calendar's button within a field for a day is the browser's own, and so is its ring.
  const shows = /^(date|datetime-local)$/.test(here.type) || [here, seen].some((one) => {
    const style = getComputedStyle(one);
    return (style.outlineStyle !== "none" && parseFloat(style.outlineWidth) > 0)
      || style.boxShadow !== "none";
  });
  const label = here.labels && here.labels.length ? here.labels[0].innerText : "";
  const words = label || here.getAttribute("aria-label") || here.innerText || here.value || "";
  return {shows, tag: here.tagName, words: words.replace(/\\s+/g, " ").trim()};
}"""


class Keyboard:
    """Somebody with a keyboard and no mouse."""

    def __init__(self, page: Any) -> None:
        self.page = page
        self.unseen: list[str] = []

    def tab_to(self, words: str, *, tag: str = "") -> None:
        """Press Tab until something with these words has the focus; fail where nothing has."""
        pattern = re.compile(rf"{words}(\s*\(optional\))?\Z")
        met = []
        for _ in range(MOST_STOPS):
            self.page.keyboard.press("Tab")
            here = self.page.evaluate(FOCUSED)
            if here is None:
                continue
            if not here["shows"]:
                self.unseen.append(f"{here['tag']} {here['words']}")
            met.append(here["words"])
            if pattern.match(here["words"]) and (not tag or here["tag"] == tag):
                return
        pytest.fail(f"{words!r} is not reached by Tab; met {met}")

    def press(self, words: str, *, tag: str = "") -> None:
        """Go to a link or button and press it."""
        self.tab_to(words, tag=tag)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def type_into(self, words: str, text: str) -> None:
        """Go to a field and type into it, over what stood there."""
        self.tab_to(words)
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def find(self, code: str) -> None:
        """Go to the search box by its key, and open what carries a code."""
        self.page.keyboard.press("/")
        self.page.keyboard.type(code)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")
        expect(self.page.get_by_role("heading", level=1)).to_contain_text(code)


@pytest.fixture(scope="module")
def demo(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[RunningNursery]:
    """The demo nursery, loaded once."""
    folder = tmp_path_factory.mktemp("keyboard")
    nursery = RunningNursery(prepared_nursery.copy_to(folder / "data"))
    nursery.command("load_demo")
    nursery.start()
    yield nursery
    nursery.stop()


@pytest.fixture
def keyboard(
    chromium: Any, demo: RunningNursery, request: pytest.FixtureRequest
) -> Iterator[Keyboard]:
    """The nursery hand, signed in by the keyboard."""
    with visitor(chromium, demo, request) as person:
        person.page.goto(demo.link_for("hand"))
        keys = Keyboard(person.page)
        keys.press("Sign in", tag="BUTTON")
        yield keys
        assert keys.unseen == [], "these have the focus and do not show it"


def test_a_lot_is_sown_by_the_keyboard(keyboard: Keyboard) -> None:
    page = keyboard.page
    keyboard.press("Sow", tag="A")
    keyboard.press("From spores", tag="A")
    keyboard.tab_to("Lot", tag="SELECT")
    page.keyboard.press("ArrowDown")
    keyboard.type_into("Trays", "2")
    keyboard.press("Sow it", tag="BUTTON")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Batch")
    expect(page.locator("#trays")).to_contain_text("sown")


def test_a_look_is_logged_by_the_keyboard(keyboard: Keyboard, demo: RunningNursery) -> None:
    page = keyboard.page
    keyboard.find(codes_of(demo.data / "nursery.sqlite3")["sown"])
    keyboard.tab_to("mould", tag="INPUT")
    page.keyboard.press("Space")
    keyboard.type_into("Note", "grey web in a corner")
    keyboard.press("Save the look", tag="BUTTON")
    expect(page.locator(".undo-bar")).to_contain_text("Look logged by Bryn Hale")
    expect(page.locator("#log")).to_contain_text("grey web in a corner")


def test_a_mat_is_pricked_out_by_the_keyboard(keyboard: Keyboard, demo: RunningNursery) -> None:
    page = keyboard.page
    mat = codes_of(demo.data / "nursery.sqlite3")["first_frond"]
    keyboard.find(mat)
    keyboard.press("Prick out", tag="A")
    keyboard.type_into("How many trays\\?", "1")
    keyboard.press("Give out the codes", tag="BUTTON")
    code = page.locator("#lay-out .line-what .code").last.inner_text()
    keyboard.type_into(f"Left the parent for {code}", "2")
    if page.get_by_text(f"Arrived in {code}").count():
        keyboard.type_into(f"Arrived in {code}", "8")
    keyboard.press("Prick out", tag="BUTTON")
    expect(page.get_by_role("heading", level=1)).to_contain_text(mat)
    expect(page.locator("main")).to_contain_text(code)
