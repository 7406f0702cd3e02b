"""How does a test look at a page the way a person does?

`browser_page` is a page of a real Chromium, opened on a real server, with nobody signed in;
`signed_in("manager")` signs somebody in on it. A failing test leaves a picture of its page in
screenshots/. Any script error, and anything the content security policy forbids, fails the test.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from _pytest.nodes import Item

from tests.running_nursery import ROOT, RunningNursery

CHROMIUM = os.environ.get("NURSERY_CHROMIUM", "/usr/bin/chromium")


def pytest_collection_modifyitems(items: list[Item]) -> None:
    """Mark everything in this folder as a browser test."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: Item) -> Generator[None, Any, Any]:
    """Let fixtures know whether their test failed."""
    report = yield
    setattr(item, f"report_{report.when}", report)
    return report


@pytest.fixture(autouse=True)
def queries_beside_playwright(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let tests query: Django takes Playwright's event loop for one that runs around them."""
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")


@pytest.fixture(scope="package")
def chromium() -> Iterator[Any]:
    """A real Chromium, closed before the tests of another folder run in this process."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no Chromium at {CHROMIUM}")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM,
            args=["--no-sandbox", "--disable-background-networking"],
        )
        yield browser
        browser.close()


@pytest.fixture
def browser_page(
    chromium: Any, nursery: RunningNursery, request: pytest.FixtureRequest
) -> Iterator[Any]:
    """A page of a real browser, at the address of a started nursery (`nursery`)."""
    context = chromium.new_context(base_url=nursery.url, viewport={"width": 1280, "height": 800})
    context.set_default_timeout(10_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(f"script error: {error}"))
    page.on(
        "console",
        lambda said: (
            complaints.append(said.text)
            if said.type == "error" and "Content Security Policy" in said.text
            else None
        ),
    )
    page.complaints = complaints
    yield page
    report = getattr(request.node, "report_call", None)
    if report is None or report.failed:
        folder = ROOT / "screenshots"
        folder.mkdir(exist_ok=True)
        name = re.sub(r"[^a-zA-Z0-9_-]+", "_", request.node.name)[:120]
        page.screenshot(path=str(folder / f"{name}.png"), full_page=True)
    context.close()
    assert complaints == []


@pytest.fixture
def signed_in(browser_page: Any, nursery: RunningNursery) -> Callable[[str], Any]:
    """Signs a person of a role in on `browser_page`, and gives that page."""

    def sign_in(role: str) -> Any:
        browser_page.goto(nursery.link_for(role))
        browser_page.get_by_role("button", name="Sign in").click()
        browser_page.wait_for_url(re.compile(r".*/(bench/)?$"))
        return browser_page

    return sign_in
