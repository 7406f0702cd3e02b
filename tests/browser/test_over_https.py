"""Is a nursery's network, served over https by its own authority, a secure place to a browser?"""

from __future__ import annotations

import re
from typing import Any

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
#: a worker of a few words, as any page of the site may register one at its own origin
REGISTER = """async (script) => {
  const made = await navigator.serviceWorker.register(script);
  const one = made.installing || made.waiting || made.active;
  if (one.state !== "activated") {
    await new Promise((done, fail) => one.addEventListener("statechange", () => {
      if (one.state === "activated") done();
      if (one.state === "redundant") fail(new Error("redundant"));
    }));
  }
  return one.state;
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
