"""Is every page of the demo nursery fit to be shown, at a desk, on a tablet and on a phone?

Each page is opened once and laid out at three sizes and at 200 % zoom: one main heading, nothing
wider than the window, nothing over anything else, nothing that axe finds (WCAG 2.2 AA), no word of
the console, few requests and few bytes.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse

from tests.browser.addresses import BEFORE_SIGN_IN, REFUSED, VISITS, Visit, codes_of
from tests.browser.visitor import Visitor, visitor
from tests.labels.paper import PRINTER, words
from tests.running_nursery import PreparedNursery, RunningNursery

#: at a desk, on a tablet, on a phone; the last is a desk's window at 200 % (WCAG 2.2, 1.4.4)
SIZES = {"desk": (1280, 800), "tablet": (1024, 768), "phone": (360, 740), "zoomed": (640, 400)}
#: where axe looks: it knows of nothing in which the sizes between differ. A page that stood in
#: another state before is looked at once.
AXE_AT = ("desk", "phone")
SECOND_STATES = {
    visit for n, visit in enumerate(VISITS) if visit.url in {one.url for one in VISITS[:n]}
}
WCAG = {
    "runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]},
    "resultTypes": ["violations"],
    "iframes": False,
}
#: an office page, without charts, fonts and photos: design limits of this program
MOST_REQUESTS, MOST_BYTES = 6, 60_000
CHECKS = (Path(__file__).parent / "page_checks.js").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def demo(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[RunningNursery]:
    """The demo nursery, loaded once."""
    folder = tmp_path_factory.mktemp("demo")
    nursery = RunningNursery(prepared_nursery.copy_to(folder / "data"))
    nursery.command("load_demo")
    nursery.start()
    yield nursery
    nursery.stop()


@pytest.fixture(scope="module")
def codes(demo: RunningNursery) -> dict[str, str]:
    """One real code of each kind of thing."""
    return codes_of(demo.data / "nursery.sqlite3")


@pytest.fixture(scope="module")
def manager(
    request: pytest.FixtureRequest, chromium: Any, demo: RunningNursery
) -> Iterator[Visitor]:
    """The manager, who may open every page, before one browser for all of them."""
    with visitor(chromium, demo, request) as person:
        person.sign_in("manager")
        person.fetch_anew()
        yield person


@pytest.fixture(scope="module")
def stranger(
    request: pytest.FixtureRequest, chromium: Any, demo: RunningNursery
) -> Iterator[Visitor]:
    """Somebody who is not signed in."""
    with visitor(chromium, demo, request) as person:
        person.fetch_anew()
        yield person


@pytest.mark.parametrize("visit", VISITS, ids=str)
def test_a_page_is_fit_to_be_shown(visit: Visit, manager: Visitor, codes: dict[str, str]) -> None:
    axe_at = ("phone",) if visit in SECOND_STATES else AXE_AT
    assert _faults_of(manager, visit.address(codes), axe_at=axe_at) == []


@pytest.mark.parametrize("visit", BEFORE_SIGN_IN, ids=str)
def test_a_page_before_signing_in_is_fit_to_be_shown(visit: Visit, stranger: Visitor) -> None:
    assert _faults_of(stranger, visit.address({})) == []


@pytest.mark.parametrize(("address", "status"), REFUSED)
def test_a_page_that_says_no_is_fit_to_be_shown(
    address: str, status: int, manager: Visitor
) -> None:
    assert _faults_of(manager, address, status=status) == []


def test_the_pages_of_an_alarm_are_fit_to_be_shown(manager: Visitor, codes: dict[str, str]) -> None:
    """Trays are held from their origin's trail; then a drill is begun and stopped."""
    page = manager.page
    page.goto(f"/trace/{codes['origin']}/")
    manager.follow("Hold these")
    manager.field("Why are they held?").fill("Leaf spots on pots of this origin.")
    page.locator("main form.form button.button").first.click()
    page.wait_for_url("**/holds/*-*/")
    for address in (page.url, "/holds/", "/", "/bench-map/"):
        assert _faults_of(manager, address) == []
    page.goto("/alarm-drills/")
    manager.press("Begin: start the clock")
    drill = page.url
    assert _faults_of(manager, drill) == []
    manager.press("Stop the clock")
    assert _faults_of(manager, drill) == []


#: what a page that is printed from the browser must not show, and what reaches beyond the paper
ON_PAPER = """() => {
  const seen = (one) => one.checkVisibility() && one.getBoundingClientRect().width > 2;
  const needless = "header, footer, .crumbs, .button, .banner, .line-do, section form";
  const wide = document.documentElement.clientWidth + 2;
  return [
    ...[...document.querySelectorAll(needless)].filter(seen),
    ...[...document.querySelectorAll("main :not(svg *)")].filter(
      (one) => one.getBoundingClientRect().right > wide),
  ].map((one) => one.outerHTML.slice(0, 90));
}"""


@PRINTER
def test_pages_print_without_menus_and_buttons_and_whole(
    manager: Visitor, codes: dict[str, str], tmp_path: Path
) -> None:
    page = manager.page
    # What A4 leaves between margins of 14 mm, at 96 dots an inch (CSS Values 4, 6.2).
    page.set_viewport_size({"width": 688, "height": 1000})
    file = tmp_path / "forecast.pdf"
    for url, part in (("today", ""), ("tray", "sown"), ("bench-map", ""), ("forecast", "")):
        page.goto(reverse(f"batches:{url}", args=[codes[part]] if part else []))
        # Another page does not keep it.
        page.emulate_media(media="print")
        try:
            assert page.evaluate(ON_PAPER) == [], url
        finally:
            page.emulate_media(media="null")
    page.pdf(path=str(file), format="A4")
    printed = words(file)
    assert page.locator("h1").inner_text() in printed
    assert page.locator(".table").first.locator("th").all_inner_texts()[-1].split()[-1] in printed
    for needless in ("Sign out", "Skip to the page", "Menu", "More", "Bench map"):
        assert needless not in printed


def test_the_check_finds_what_is_wrong(manager: Visitor) -> None:
    """A page made bad on purpose: too wide, one thing over another, two main headings."""
    page = manager.page
    page.goto("/my-password/")
    page.evaluate(
        """() => {
          const bad = document.createElement("h1");
          bad.textContent = "one over the other, and much wider than the window".repeat(9);
          bad.style.whiteSpace = "nowrap";
          bad.style.marginBottom = "-30px";
          document.querySelector("main").prepend(bad);
        }"""
    )
    faults = faults_as_laid_out(page)
    assert any("main headings" in fault for fault in faults)
    assert any("scrolls sideways" in fault for fault in faults)
    assert any("lie over each other" in fault for fault in faults)


def _faults_of(
    person: Visitor, address: str, *, status: int = 200, axe_at: tuple[str, ...] = AXE_AT
) -> list[str]:
    """Open a page and give all that is wrong with it, in sentences."""
    page = person.page
    page.set_viewport_size(_size("desk"))
    person.complaints.clear()
    with person.counting() as fetched:
        answer = page.goto(address, wait_until="load")
        page.wait_for_function("document.fonts.status === 'loaded'")
    log = person.nursery.read_on(seconds=0.01)  # a full pipe would stop the server
    if answer.status != status:
        return [f"it answers {answer.status}: {log[-2000:]}"]
    faults = [said for said in person.complaints if f"status of {status}" not in said]
    person.complaints.clear()
    faults += fetched.faults(most_requests=MOST_REQUESTS, most_bytes=MOST_BYTES)
    if page.locator(".chart").count() == 0:
        faults += [
            f"a page without a chart loads {one}" for one in fetched.sizes if "plotly" in one
        ]
    return faults + faults_as_laid_out(page, axe_at)


def faults_as_laid_out(page: Any, axe_at: tuple[str, ...] = AXE_AT) -> list[str]:
    """Give all that is wrong with an open page at every size, in sentences."""
    headings = page.locator("h1").count()
    faults = [] if headings == 1 else [f"{headings} main headings"]
    for name in SIZES:
        page.set_viewport_size(_size(name))
        faults += [f"{name}: {said}" for said in page.evaluate(CHECKS)]
        if name in axe_at:
            found = Axe().run(page, options=WCAG).response["violations"]
            faults += [f"{name}: {_axe_words(one)}" for one in found]
    return faults


def _axe_words(violation: dict[str, Any]) -> str:
    nodes = "; ".join(node["html"][:120] for node in violation["nodes"][:3])
    return f"{violation['id']}: {violation['help']} ({nodes})"


def _size(name: str) -> dict[str, int]:
    width, height = SIZES[name]
    return {"width": width, "height": height}
