"""Is every screen of the bench page fit for wet hands and bright light, at every size of window?

Boxes are measured, not read from the style sheet. 96, 64, 16 and 18 px: common practice, no
source. Contrast 7:1: WCAG 2.2, 1.4.6, by axe.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.browser.secure import serve_by_name
from tests.browser.tablet import Tablet
from tests.running_nursery import PreparedNursery, RunningNursery

SIZES = {
    "tablet": (1024, 768),
    "upright": (768, 1024),
    "large": (1280, 800),
    "phone": (360, 740),
}
AXE = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "rules": {"color-contrast-enhanced": {"enabled": True}},
    "resultTypes": ["violations"],
}
CHECKS = (Path(__file__).parent / "page_checks.js").read_text(encoding="utf-8")
MEASURE = """() => {
  const said = [];
  const seen = (one) => one.checkVisibility() && !one.closest(".visually-hidden")
    && !one.classList.contains("visually-hidden");
  const targets = [...document.querySelectorAll("button, a, input, select, textarea")].filter(seen);
  const boxes = targets.map((one) => one.getBoundingClientRect());
  const words = (one) => (one.textContent.trim() || one.id || one.className).slice(0, 40);
  const phone = innerWidth < 641;
  targets.forEach((one, at) => {
    const main = one.matches(".save, .tray-row, .tile, .tray-tick, .number, .stepper .button,"
      + ".pad .button, .button:not(.secondary), .bar > .button:last-child")
      || (!phone && one.matches(".bar .button"));
    const least = main ? 96 : 64;
    const { width, height } = boxes[at];
    if (height < least - 0.5) said.push(`${words(one)}: ${height} px high, ${least} wanted`);
    if (width < (phone ? 64 : least) - 0.5) said.push(`${words(one)}: ${width} px wide`);
  });
  const floats = (one) => one.closest(".bar, .bench-head, .undo-bar, .told") || document.body;
  for (let at = 0; at < boxes.length; at += 1) {
    for (let other = at + 1; other < boxes.length; other += 1) {
      if (floats(targets[at]) !== floats(targets[other])) continue;
      const [a, b] = [boxes[at], boxes[other]];
      const across = Math.max(b.left - a.right, a.left - b.right);
      const down = Math.max(b.top - a.bottom, a.top - b.bottom);
      if (Math.max(across, down) < 15.5) {
        said.push(`${words(targets[at])} and ${words(targets[other])}: `
          + `${Math.max(across, down)} px apart`);
      }
    }
  }
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const parent = node.parentElement;
    if (!node.textContent.trim() || !seen(parent) || parent.closest("noscript, option")) continue;
    const size = parseFloat(getComputedStyle(parent).fontSize);
    if (size < 17.95) said.push(`${node.textContent.trim().slice(0, 40)}: ${size} px`);
  }
  return said.slice(0, 8);
}"""


@pytest.fixture(scope="module")
def house(
    prepared_house: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[RunningNursery]:
    """One nursery for all that is looked at here."""
    folder = tmp_path_factory.mktemp("fit")
    nursery = serve_by_name(prepared_house.copy_to(folder / "house"), "--http")
    yield nursery
    nursery.stop()


def names(tablet: Tablet) -> None:
    tablet.page.locator("#who").click()


def the_round(tablet: Tablet) -> None:
    expect(tablet.page.locator(".tray-row").first).to_be_visible()


def benches(tablet: Tablet) -> None:
    tablet.press("Bench by bench")


def a_bench(tablet: Tablet) -> None:
    benches(tablet)
    tablet.page.get_by_role("button", name="Look over Mist house, B1").click()
    tablet.page.locator(".tray-tick").nth(3).click()


def a_move(tablet: Tablet) -> None:
    a_bench(tablet)
    tablet.press("Move")


def a_tray(tablet: Tablet) -> None:
    tablet.page.locator(".tray-row").first.click()


def a_count(tablet: Tablet) -> None:
    a_tray(tablet)
    tablet.press("Count")
    tablet.press("+10")


def the_pad(tablet: Tablet) -> None:
    a_count(tablet)
    tablet.page.locator(".number").click()


def a_loss(tablet: Tablet) -> None:
    a_tray(tablet)
    tablet.press("Lost")
    tablet.press("+1")


def more(tablet: Tablet) -> None:
    a_tray(tablet)
    tablet.press("More")


def a_picking(tablet: Tablet) -> None:
    more(tablet)
    tablet.press("Pot up")
    tablet.scan("T-40")
    expect(tablet.page.locator(".filled")).to_be_visible()
    tablet.press("A tray without a label")
    tablet.page.locator(".tick", has_text="More to come").click()
    expect(tablet.page.locator("#pot-size, input[type=date]")).to_have_count(2)


def logged(tablet: Tablet) -> None:
    a_tray(tablet)
    tablet.press("Looked, nothing new")
    expect(tablet.page.locator("#undo")).to_be_visible()


def what_waits(tablet: Tablet) -> None:
    tablet.page.route("**/sync/**", lambda route: route.abort())
    logged(tablet)
    tablet.page.locator("#strip").click()


def a_fault(tablet: Tablet) -> None:
    def answer(route: Any) -> None:
        items = json.loads(route.request.post_data)["items"]
        said = "The program met a fault with this one and wrote it to its log."
        results = [{"id": one["id"], "status": "fault", "message": said} for one in items]
        route.fulfill(json={"results": results})

    tablet.page.route("**/sync/", answer)
    logged(tablet)
    expect(tablet.page.locator("#strip")).to_contain_text("1 needs a look")
    tablet.page.locator("#strip").click()
    expect(tablet.page.locator(".waiting-row .tag", has_text="met a fault")).to_be_visible()


def a_refusal(tablet: Tablet) -> None:
    tablet.scan("26W14-073-05-X")
    expect(tablet.page.locator("#told")).to_be_visible()


SCREENS: tuple[Callable[[Tablet], None], ...] = (
    names, the_round, benches, a_bench, a_move, a_tray, a_count, the_pad, a_loss, more, a_picking,
    logged, what_waits, a_fault, a_refusal,
)  # fmt: skip


@pytest.mark.parametrize("screen", SCREENS, ids=[screen.__name__ for screen in SCREENS])
def test_a_screen_is_fit_for_wet_hands(tablet: Tablet, screen: Callable[[Tablet], None]) -> None:
    page: Any = tablet.page
    screen(tablet)
    tablet.page.wait_for_timeout(300)
    faults: list[str] = []
    for name, (width, height) in SIZES.items():
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_timeout(100)
        said = page.evaluate(MEASURE) + page.evaluate(CHECKS)
        if name == "tablet":
            found = Axe().run(page, options=AXE).response["violations"]
            said += [
                f"axe {one['id']}: {one['nodes'][0]['html'][:90]}: "
                f"{one['nodes'][0]['failureSummary'][:160]}"
                for one in found
            ]
        faults += [f"{name}: {words}" for words in said]
    assert not faults, "\n" + "\n".join(faults)


def test_without_scripts_the_page_says_where_to_go(chromium: Any, tablet: Tablet) -> None:
    cookies = tablet.page.context.cookies()
    context = chromium.new_context(java_script_enabled=False)
    context.add_cookies(cookies)
    page = context.new_page()
    page.goto(f"{tablet.address}/bench/")
    expect(page.get_by_text("needs JavaScript")).to_be_visible()
    assert page.get_by_role("link", name="Today").get_attribute("href") == "/"
    context.close()


def test_the_page_is_light_enough_for_a_poor_network(tablet: Tablet) -> None:
    """60 KB without fonts; the page, its sheet and its script, and what the script asks for."""
    page = tablet.page
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    sizes: dict[str, int] = {}
    page.on(
        "requestfinished",
        lambda request: sizes.update({request.url: request.sizes()["responseBodySize"]}),
    )
    tablet.open()
    page.wait_for_timeout(500)
    counted = {
        address: size
        for address, size in sizes.items()
        if ".woff2" not in address and not address.startswith("data:")
    }
    assert sum(counted.values()) <= 60_000, counted
    assert len(counted) <= 6, sorted(counted)
