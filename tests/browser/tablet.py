"""How does a test hold a bench tablet in its hands?

A `Tablet` is a real Chromium that knows the nursery by a name that is not localhost, over plain
http or https: localhost counts as secure and hides what fails in a real house. Every press of the
pointer is counted. Script errors and anything that the policy forbids fail the test.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

import pytest

from tests.running_nursery import ROOT, RunningNursery

#: what a browser says by itself of a server that is away or says no; the page tells people
_OWN_WORDS = ("Failed to load resource", "net::ERR_", "Cross-Origin-Opener-Policy header")
_COUNT_TAPS = "window.taps = 0; addEventListener('pointerdown', () => { window.taps += 1; }, true);"

#: a tablet whose clock is off by so many milliseconds
CLOCK_OFF = """
{
  const Right = Date;
  window.clockOff = OFF;
  window.Date = class extends Right {
    constructor(...given) {
      if (given.length) super(...given);
      else super(Right.now() + window.clockOff);
    }
    static now() { return Right.now() + window.clockOff; }
  };
}
"""


class Tablet:
    """A bench tablet: its page, what the page complained of, and the nursery behind it."""

    def __init__(self, page: Any, nursery: RunningNursery, *, address: str) -> None:
        self.page = page
        self.nursery = nursery
        self.address = address
        self.complaints: list[str] = []
        page.on("pageerror", lambda error: self.complaints.append(f"script error: {error}"))
        page.on("console", self._listen)
        page.on("dialog", lambda dialog: dialog.accept())

    def _listen(self, said: Any) -> None:
        if said.type == "error" and not any(word in said.text for word in _OWN_WORDS):
            self.complaints.append(said.text)

    def enrol(self, name: str = "Mist house") -> None:
        """Enrol this tablet by a code of the manager's."""
        made = self.nursery.answer("enrol_tablet", name)
        self.page.goto(self.address + urlsplit(made["url"]).path)
        self.page.get_by_role("button", name="Enrol this tablet").click()
        self.page.wait_for_load_state()

    def open(self, more: str = "") -> None:
        """Open the bench page and wait until it is ready for hands."""
        self.page.goto(f"{self.address}/bench/{more}")
        self.ready()

    def reload(self) -> None:
        """Load the page anew."""
        self.page.reload()
        self.ready()

    def ready(self) -> None:
        """Wait until the page has read what it keeps."""
        self.page.wait_for_selector("html[data-ready=yes]", timeout=20_000)

    def as_person(self, name: str) -> None:
        """Tap a name."""
        self.page.locator(".tile.name", has_text=name).click()

    def press(self, words: str) -> None:
        """Press the button with these words."""
        self.page.get_by_role("button", name=words, exact=True).first.click()

    def scan(self, text: str) -> None:
        """Let a scanner that sends Enter type a text, wherever the focus is."""
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def settle(self) -> None:
        """Wait as long as a second tap on the same button would be taken for wet fingers."""
        self.page.wait_for_timeout(450)

    @property
    def taps(self) -> int:
        """How often the glass was touched since the page was opened."""
        return int(self.page.evaluate("window.taps"))

    def strip(self) -> str:
        """Read the line that says what is sent."""
        return str(self.page.locator("#strip").inner_text())

    def kept(self, store: str) -> list[dict[str, Any]]:
        """Give all that one of the tablet's stores holds."""
        return list(
            json.loads(
                self.page.evaluate(
                    """(name) => new Promise((done, fail) => {
          const request = indexedDB.open("frondbook-bench");
          request.onerror = () => fail(request.error);
          request.onsuccess = () => {
            const rows = request.result.transaction(name).objectStore(name).getAll();
            rows.onsuccess = () => { request.result.close(); done(JSON.stringify(rows.result)); };
          };
        })""",
                    store,
                )
            )
        )


def stored(nursery: RunningNursery, query: str, *given: Any) -> list[tuple[Any, ...]]:
    """Read rows of a nursery's database, without the program."""
    base = sqlite3.connect(f"file:{nursery.data / 'nursery.sqlite3'}?mode=ro", uri=True)
    try:
        return base.execute(query, given).fetchall()
    finally:
        base.close()


@contextmanager
def held(
    browser: Any,
    nursery: RunningNursery,
    request: pytest.FixtureRequest,
    *,
    address: str = "",
    **context: Any,
) -> Iterator[Tablet]:
    """Hold one tablet, with a store of its own; a failing test leaves a picture."""
    opened = browser.new_context(
        viewport={"width": 1024, "height": 768}, locale="en-GB", has_touch=True, **context
    )
    opened.set_default_timeout(10_000)
    opened.add_init_script(_COUNT_TAPS)
    tablet = Tablet(opened.new_page(), nursery, address=address or nursery.url)
    yield tablet
    report = getattr(request.node, "report_call", None)
    if report is None or report.failed:
        folder = ROOT / "screenshots"
        folder.mkdir(exist_ok=True)
        name = re.sub(r"[^a-zA-Z0-9_-]+", "_", request.node.name)[:120]
        tablet.page.screenshot(path=str(folder / f"{name}.png"), full_page=True)
    opened.close()
    assert tablet.complaints == []
