"""How does a test look at a page the way a person does?

`browser_page` is a page of a real Chromium, opened on a real server, with nobody signed in;
`signed_in("manager")` signs somebody in on it. `https_page` is one of a browser that trusts the
own authority of `https_nursery`, `named_page` one on `named_nursery`, the same by plain http; both
nurseries answer under a name that is not localhost. A failing test leaves a picture of its page in
screenshots/. Any script error, and anything the content security policy forbids, fails the test.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Generator, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from _pytest.nodes import Item

from batches.services.local_authority import (
    Authority,
    authority_for_serving,
)
from tests.browser.cutting_proxy import CuttingProxy
from tests.browser.full_bench import write_full_bench
from tests.browser.secure import MAPPED, serve_by_name, serve_over_https, trust_in
from tests.browser.tablet import Tablet, held
from tests.running_nursery import ROOT, PreparedNursery, RunningNursery

ARGUMENTS = ["--no-sandbox", "--disable-background-networking", MAPPED]
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
def playwright() -> Iterator[Any]:
    """What drives the browsers; ended before the tests of another folder run in this process."""
    if not Path(CHROMIUM).exists():
        pytest.skip(f"no Chromium at {CHROMIUM}")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="package")
def chromium(playwright: Any) -> Iterator[Any]:
    """A real Chromium."""
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
    yield browser
    browser.close()


@contextmanager
def watched_page(browser: Any, url: str, request: pytest.FixtureRequest) -> Iterator[Any]:
    """Open a page; its script errors, and what the content security policy forbids, fail."""
    context = browser.new_context(base_url=url, viewport={"width": 1280, "height": 800})
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
def browser_page(
    chromium: Any, nursery: RunningNursery, request: pytest.FixtureRequest
) -> Iterator[Any]:
    """A page of a real browser, at the address of a started nursery (`nursery`)."""
    with watched_page(chromium, nursery.url, request) as page:
        yield page


# Over the network: under a name that is not localhost


@pytest.fixture(scope="package")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """One authority for all nurseries served over https here, so that one browser trusts all."""
    data = tmp_path_factory.mktemp("authority")
    return authority_for_serving(data=data, now=datetime.now(UTC), limited=True)


@pytest.fixture(scope="package")
def trusting_chromium(
    playwright: Any, authority: Authority, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Any]:
    """A real Chromium on a device that was set up: it trusts the nursery's authority."""
    home = tmp_path_factory.mktemp("home")
    (home / "authority.crt").write_bytes(authority.pem)
    trust_in(home, home / "authority.crt")
    browser = playwright.chromium.launch(
        executable_path=CHROMIUM,
        args=ARGUMENTS,
        env={**os.environ, "HOME": str(home)},
    )
    yield browser
    browser.close()


@pytest.fixture
def https_nursery(
    prepared_nursery: PreparedNursery, authority: Authority, tmp_path: Path
) -> Iterator[RunningNursery]:
    """A nursery served over https; a server started again keeps its authority, not its port."""
    data = prepared_nursery.copy_to(tmp_path / "data-https")
    nursery = serve_over_https(data, authority)
    yield nursery
    nursery.stop()


@pytest.fixture
def https_page(
    trusting_chromium: Any, https_nursery: RunningNursery, request: pytest.FixtureRequest
) -> Iterator[Any]:
    """A page of a browser that trusts the authority, at the https address."""
    with watched_page(trusting_chromium, https_nursery.url, request) as page:
        yield page


@pytest.fixture
def named_nursery(prepared_nursery: PreparedNursery, tmp_path: Path) -> Iterator[RunningNursery]:
    """A nursery served to its network by plain http."""
    nursery = serve_by_name(prepared_nursery.copy_to(tmp_path / "data-http"), "--http")
    yield nursery
    nursery.stop()


@pytest.fixture
def named_page(
    trusting_chromium: Any, named_nursery: RunningNursery, request: pytest.FixtureRequest
) -> Iterator[Any]:
    """A page of a browser at the plain-http address."""
    with watched_page(trusting_chromium, named_nursery.url, request) as page:
        yield page


@pytest.fixture
def signed_in(browser_page: Any, nursery: RunningNursery) -> Callable[[str], Any]:
    """Signs a person of a role in on `browser_page`, and gives that page."""

    def sign_in(role: str) -> Any:
        browser_page.goto(nursery.link_for(role))
        browser_page.get_by_role("button", name="Sign in").click()
        browser_page.wait_for_url(re.compile(r".*/(bench/)?$"))
        return browser_page

    return sign_in


@pytest.fixture(scope="session")
def prepared_house(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> PreparedNursery:
    """A nursery with forty covered trays on one bench, and two people; made once a run."""
    folder = tmp_path_factory.mktemp("house")
    write_full_bench(folder / "records")
    nursery = RunningNursery(prepared_nursery.copy_to(folder / "data"))
    nursery.command("import_records", str(folder / "records"))
    nursery.link_for("hand")
    nursery.link_for("manager")
    return PreparedNursery(folder / "data")


@pytest.fixture
def house(prepared_house: PreparedNursery, tmp_path: Path) -> Iterator[RunningNursery]:
    """That nursery, served by plain http, for one test."""
    nursery = serve_by_name(prepared_house.copy_to(tmp_path / "house"), "--http")
    yield nursery
    nursery.stop()


@pytest.fixture
def tablet(
    request: pytest.FixtureRequest, chromium: Any, house: RunningNursery
) -> Iterator[Tablet]:
    """An enrolled tablet of that nursery with Bryn Hale before it."""
    with held(chromium, house, request) as one:
        one.enrol()
        one.open()
        one.as_person("Bryn Hale")
        yield one


@pytest.fixture
def line(house: RunningNursery) -> Iterator[CuttingProxy]:
    """A proxy before the nursery that cuts where a test tells it to."""
    proxy = CuttingProxy(house)
    yield proxy
    proxy.close()


@pytest.fixture
def behind(
    request: pytest.FixtureRequest, chromium: Any, house: RunningNursery, line: CuttingProxy
) -> Iterator[Tablet]:
    """A tablet that reaches the nursery through the proxy alone."""
    with held(chromium, house, request, address=line.address) as one:
        one.enrol()
        one.open()
        one.as_person("Bryn Hale")
        yield one
