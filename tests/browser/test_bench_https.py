"""Does the bench page open without the server, over https by the nursery's own authority?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from batches.services.local_authority import Authority
from tests.browser.secure import serve_over_https
from tests.browser.tablet import Tablet, held, stored
from tests.running_nursery import PreparedNursery, RunningNursery

LOOKS = (
    "select t.code from batches_traycheck c join batches_tray t on t.id = c.tray_id "
    "where c.source = 'tablet' order by c.device_seq"
)
CACHED = """async () => {
  const found = [];
  for (const name of await caches.keys()) {
    for (const request of await (await caches.open(name)).keys()) found.push(request.url);
  }
  return found;
}"""


@pytest.fixture
def secure_house(
    prepared_house: PreparedNursery, authority: Authority, tmp_path: Path
) -> Iterator[RunningNursery]:
    """The nursery of forty trays, over https."""
    data = prepared_house.copy_to(tmp_path / "secure")
    nursery = serve_over_https(data, authority)
    yield nursery
    nursery.stop()


@pytest.fixture
def secure_tablet(
    request: pytest.FixtureRequest, trusting_chromium: Any, secure_house: RunningNursery
) -> Iterator[Tablet]:
    """A tablet that was set up and enrolled, its service worker in place."""
    with held(trusting_chromium, secure_house, request) as one:
        one.enrol()
        one.open()
        one.page.evaluate("async () => { await navigator.serviceWorker.ready; }")
        one.as_person("Bryn Hale")
        yield one


def start_again(nursery: RunningNursery) -> None:
    """Start the server again where it was."""
    port = str(urlsplit(nursery.url).port)
    nursery.start("--lan", "--host", "127.0.0.1", "--https-port", port)


def test_the_page_opens_without_the_server_and_sends_later(secure_tablet: Tablet) -> None:
    page, nursery = secure_tablet.page, secure_tablet.nursery
    assert page.evaluate("isSecureContext")
    expect(page.locator("#warnings")).to_be_empty()
    nursery.stop()
    secure_tablet.reload()
    expect(page.locator(".tray-row").first).to_contain_text("T-01")
    expect(page.locator("#who")).to_contain_text("Bryn Hale")
    page.locator(".tray-row").first.click()
    secure_tablet.press("Looked, nothing new")
    expect(page.locator("#strip")).to_contain_text("1 waiting")
    page.goto(f"{nursery.url}/t/T-09")
    secure_tablet.ready()
    expect(page.locator("h1")).to_have_text("T-09")
    expect(page.locator("#strip")).to_contain_text("1 waiting")
    start_again(nursery)
    page.locator("#strip").click()
    secure_tablet.press("Send now")
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert stored(nursery, LOOKS) == [("T-01",)]


def test_the_worker_keeps_its_own_files_and_nothing_else(secure_tablet: Tablet) -> None:
    page = secure_tablet.page
    page.locator(".tray-row").first.click()
    secure_tablet.press("Looked, nothing new")
    page.goto(f"{secure_tablet.nursery.url}/sign-in/")
    cached = {urlsplit(address).path for address in page.evaluate(CACHED)}
    assert "/bench/" in cached
    assert all(path == "/bench/" or path.startswith("/static/") for path in cached)
    shell = page.evaluate("async () => (await caches.match('/bench/')).text()")
    assert "Bryn Hale" not in shell
    assert "T-01" not in shell
    assert "csrfmiddlewaretoken" not in shell
