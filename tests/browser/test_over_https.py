"""Is a nursery's network, served over https by its own authority, a secure place to a browser?"""

from __future__ import annotations

import re
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from batches.services.local_authority import Authority
from batches.services.server_certificate import certificate_for_serving
from tests.browser.secure import NAME, PUBLIC_NAME
from tests.browser.test_every_page import faults_as_laid_out
from tests.running_nursery import RunningNursery

# What browsers give to secure contexts alone (W3C Secure Contexts; checked page by page in the
# web platform's reference: service workers, Cache API, media devices, random UUIDs, storage).
GIVEN = """() => ({
  secure: isSecureContext,
  worker: "serviceWorker" in navigator,
  caches: "caches" in window,
  camera: "mediaDevices" in navigator,
  uuid: "randomUUID" in crypto,
  database: "indexedDB" in window,
})"""
REGISTER = """async (script) => {
  const made = await navigator.serviceWorker.register(script);
  const one = made.installing || made.waiting || made.active;
  const done = new Promise((then) => {
    const look = () => ["activated", "redundant"].includes(one.state) && then(one.state);
    one.addEventListener("statechange", look);
    look();
  });
  return await done;
}"""


def test_a_page_over_https_is_a_secure_context(https_page: Any) -> None:
    answer = https_page.goto("/sign-in/")
    assert answer.url.startswith("https://fernery.home.arpa:")
    assert answer.security_details()["issuer"].startswith("Frondbook authority ")
    assert https_page.evaluate(GIVEN) == {
        "secure": True, "worker": True, "caches": True, "camera": True, "uuid": True,
        "database": True,
    }  # fmt: skip


def test_a_page_by_plain_http_under_a_name_is_none(named_page: Any) -> None:
    """What the tablet may not rest on: only the database is there."""
    named_page.goto("/sign-in/")
    assert named_page.url.startswith("http://fernery.home.arpa:")
    assert named_page.evaluate(GIVEN) == {
        "secure": False, "worker": False, "caches": False, "camera": False, "uuid": False,
        "database": True,
    }  # fmt: skip


def test_a_page_registers_a_service_worker_over_https(
    trusting_chromium: Any, https_nursery: RunningNursery
) -> None:
    """A worker of one line among the static files: whether one may be had here at all."""
    https_nursery.stop()
    worker = https_nursery.data / "static" / "trial-worker.js"
    worker.write_text("self.addEventListener('fetch', () => {});\n", encoding="ascii")
    https_nursery.start("--lan", "--host", "127.0.0.1")
    page = trusting_chromium.new_page()
    page.goto(f"{https_nursery.url}/sign-in/")
    assert page.evaluate(REGISTER, "/static/trial-worker.js") == "activated"
    page.close()


def test_somebody_signs_in_over_https_and_stays_signed_in(
    https_page: Any, https_nursery: RunningNursery
) -> None:
    https_page.goto(https_nursery.link_for("manager"))
    https_page.get_by_role("button", name="Sign in").click()
    https_page.wait_for_url(re.compile(r".*:\d+/$"))
    https_page.goto("/settings/")
    kept = {cookie["name"]: cookie for cookie in https_page.context.cookies()}
    for name in ("__Host-frondbook_session", "__Host-frondbook_csrftoken"):
        assert kept[name]["secure"]
    https_page.get_by_label("Name of the nursery").fill("Hollowmere Ferns")
    https_page.get_by_role("button", name="Store the settings").click()
    assert https_page.get_by_text("The settings are stored.").is_visible()


def set_up_at(nursery: RunningNursery) -> str:
    """Give the address that the server tells new devices to open, by plain http."""
    found = re.search(r"opens (http://\S+/setup/) once", nursery.read_on(awaited="/setup/ once"))
    assert found is not None
    return found.group(1)


def test_the_light_is_green_on_a_device_that_was_set_up(
    https_page: Any, https_nursery: RunningNursery, authority: Authority
) -> None:
    https_page.goto(set_up_at(https_nursery))
    expect(https_page.get_by_text("Https works on this device. It is set up.")).to_be_visible()
    shown = https_page.locator(".fingerprint").text_content().split()
    assert ":".join(shown) == authority.fingerprint
    assert " ".join(shown) in " ".join(https_nursery.said.split())
    assert faults_as_laid_out(https_page, ("desk", "tablet", "phone")) == []
    https_page.get_by_role("link", name="Open https").click()
    assert https_page.url.startswith(f"{https_nursery.url}/sign-in/")


def test_the_light_is_not_green_on_a_device_that_was_not_set_up(
    chromium: Any, https_nursery: RunningNursery
) -> None:
    port = urlsplit(set_up_at(https_nursery)).port
    page = chromium.new_page()
    page.goto(f"http://127.0.0.1:{port}/setup/")
    expect(page.get_by_text("Https does not work on this device yet.")).to_be_visible()
    assert faults_as_laid_out(page, ("phone",)) == []
    with pytest.raises(Exception, match="ERR_CERT_AUTHORITY_INVALID"):
        page.goto(https_nursery.url.replace("fernery.home.arpa", "127.0.0.1"))
    page.close()


@contextmanager
def served_with(certificate: Path) -> Iterator[int]:
    """Serve two words over https on loopback with a certificate, and give the port."""

    class Words(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            self.send_response(200)
            self.send_header("Content-Length", "9")
            self.end_headers()
            self.wfile.write(b"two words")

        def log_message(self, *_: object) -> None:
            pass

    speaks = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    speaks.load_cert_chain(certificate)
    server = ThreadingHTTPServer(("127.0.0.1", 0), Words)
    server.socket = speaks.wrap_socket(
        server.socket, server_side=True, do_handshake_on_connect=False
    )
    server.handle_error = lambda *_: None  # type: ignore[method-assign]
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_port
    finally:
        server.shutdown()
        server.server_close()
        thread.join(10)


def test_a_browser_that_trusts_the_authority_takes_its_word_for_private_names_alone(
    trusting_chromium: Any, authority: Authority, tmp_path: Path
) -> None:
    """What a thief of the key could make for a public site is refused, though the browser trusts
    the authority, and though the limit is not marked critical."""
    page = trusting_chromium.new_page()
    now = datetime.now(UTC)
    for host in (NAME, PUBLIC_NAME):
        made = certificate_for_serving(
            data=tmp_path / host, authority=authority, hosts=(host,), now=now
        )
        with served_with(made.path) as port:
            if host == NAME:
                assert page.goto(f"https://{host}:{port}/").text() == "two words"
            else:
                with pytest.raises(Exception, match="ERR_CERT_INVALID"):
                    page.goto(f"https://{host}:{port}/")
    page.close()


def test_the_managers_page_shows_the_fingerprint_to_compare(
    https_page: Any, https_nursery: RunningNursery, authority: Authority
) -> None:
    https_page.goto(https_nursery.link_for("manager"))
    https_page.get_by_role("button", name="Sign in").click()
    https_page.wait_for_url(re.compile(r".*:\d+/$"))
    https_page.goto("/settings/")
    shown = https_page.locator(".fingerprint").text_content().split()
    assert ":".join(shown) == authority.fingerprint
    assert faults_as_laid_out(https_page, ("desk", "phone")) == []


def test_a_page_by_http_is_led_to_https(https_page: Any, https_nursery: RunningNursery) -> None:
    by_http = set_up_at(https_nursery).removesuffix("/setup/")
    https_page.goto(f"{by_http}/enrol/")
    assert https_page.url == f"{https_nursery.url}/enrol/"


def test_a_plain_http_nursery_says_that_there_is_nothing_to_install(named_page: Any) -> None:
    named_page.goto("/setup/")
    assert named_page.get_by_text("served by plain http now").is_visible()
