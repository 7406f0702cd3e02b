"""How does one person go through the pages, by what they read on them?

A `Visitor` presses buttons and follows links by their words, with a real Chromium, and never
types an address. Script errors and breaches of the content security policy fail the test.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.running_nursery import ROOT, RunningNursery

#: other tests run on the same machine
expect.set_options(timeout=20_000)


@dataclass(slots=True, kw_only=True)
class Fetched:
    """What a page fetched, by address, in bytes as they came over the line."""

    sizes: dict[str, int] = field(default_factory=dict)

    def faults(self, *, most_requests: int, most_bytes: int) -> list[str]:
        """Say what is too much; fonts, photos and what draws charts are not counted."""
        apart = (".woff2", "/photos/", "/plotly/", "/chart")
        counted = {
            address: size
            for address, size in self.sizes.items()
            if not any(word in address for word in apart)
        }
        told = ", ".join(f"{address} {size}" for address, size in counted.items())
        faults = []
        if len(counted) > most_requests:
            faults.append(f"{len(counted)} requests: {told}")
        if sum(counted.values()) > most_bytes:
            faults.append(f"{sum(counted.values())} bytes: {told}")
        return faults


class Visitor:
    """Somebody before a browser; ``complaints`` are script errors and words of the console."""

    def __init__(
        self, page: Any, nursery: RunningNursery, *, complaints: list[str], scripts: bool
    ) -> None:
        self.page = page
        self.complaints = complaints
        self.main = page.locator("main")
        self.nursery = nursery
        self.scripts = scripts

    def sign_in(self, role: str) -> None:
        """Sign in by a one-time link."""
        self.page.goto(self.nursery.link_for(role))
        self.press("Sign in")

    def fetch_anew(self) -> None:
        """Keep nothing from page to page, as on a first visit."""
        session = self.page.context.new_cdp_session(self.page)
        session.send("Network.enable")
        session.send("Network.setCacheDisabled", {"cacheDisabled": True})

    @contextmanager
    def counting(self) -> Iterator[Fetched]:
        """Note what is fetched meanwhile."""
        fetched, done = Fetched(), []

        def note(request: Any) -> None:
            done.append(request)

        self.page.on("requestfinished", note)
        yield fetched
        self.page.remove_listener("requestfinished", note)
        for request in done:
            if not request.url.startswith("data:"):
                address = request.url.removeprefix(self.nursery.url)
                fetched.sizes[address] = request.sizes()["responseBodySize"]

    def press(self, words: str) -> None:
        """Press the button in the page with these words."""
        self.main.get_by_role("button", name=words, exact=True).click()

    def follow(self, words: str) -> None:
        """Follow the first link in the page with these words."""
        self.main.get_by_role("link", name=words, exact=True).first.click()

    def field(self, label: str) -> Any:
        """Give the field of a form by its label, whether or not it is optional."""
        words = re.compile(rf"^\s*{re.escape(label)}(\s*\(optional\))?\s*$")
        return self.main.get_by_label(words).locator("visible=true").first

    def menu(self, word: str) -> None:
        """Go to a page by the header, where need be by what stands behind More."""
        link = self.page.locator("#nav").get_by_role("link", name=word, exact=True)
        if not link.is_visible():
            self.page.get_by_role("button", name="More").click()
        link.click()
        expect(self.page.locator("#nav [aria-current=page]")).to_have_text(word)

    def open_by_search(self, code: str) -> None:
        """Type a code into the box in the header, which opens what carries it."""
        self.page.get_by_role("searchbox").fill(code)
        self.page.get_by_role("searchbox").press("Enter")
        expect(self.page.get_by_role("heading", level=1)).to_contain_text(code)


@contextmanager
def visitor(
    chromium: Any, nursery: RunningNursery, request: pytest.FixtureRequest, *, scripts: bool = True
) -> Iterator[Visitor]:
    """Open a browser's window for one person; a failing test leaves a picture in screenshots/."""
    context = chromium.new_context(
        base_url=nursery.url,
        viewport={"width": 1280, "height": 800},
        java_script_enabled=scripts,
        locale="en-GB",
    )
    context.set_default_timeout(30_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(f"script error: {error}"))
    page.on("console", lambda said: _keep(complaints, said))
    yield Visitor(page, nursery, complaints=complaints, scripts=scripts)
    report = getattr(request.node, "report_call", None)
    if report is None or report.failed:
        folder = ROOT / "screenshots"
        folder.mkdir(exist_ok=True)
        name = re.sub(r"[^a-zA-Z0-9_-]+", "_", request.node.name)[:120]
        page.screenshot(path=str(folder / f"{name}.png"), full_page=True)
    context.close()
    assert complaints == [], complaints


def _keep(complaints: list[str], said: Any) -> None:
    """Keep an error; a PDF names no icon, so the browser asks for one that is not there."""
    if said.type == "error" and not said.location["url"].endswith("/favicon.ico"):
        complaints.append(said.text)
