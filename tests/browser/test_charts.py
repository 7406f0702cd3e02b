"""Are the charts drawn, readable and named, and do their pages lack nothing without scripts?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest

from tests.running_nursery import PreparedNursery, RunningNursery

SIZES = ((768, 1024), (360, 740))
SOON = date.today() + timedelta(days=600)  # noqa: DTZ011 - the demo goes by today, too
#: page → charts on it in the demo nursery, at least
PAGES = {
    "/durations/": 1,
    "/durations/?fern=DRYFIL": 5,
    "/survival/": 2,
    "/survival/?by=house": 1,
    "/forecast/?fern=OSMREG": 1,
    f"/sowing-plan/?fern=DRYFIL&pots=300&by={SOON.isoformat()}&chance=0.9": 1,
}


@pytest.fixture(scope="module")
def demo(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[RunningNursery]:
    """A server with the demo nursery, started once for this module."""
    folder = tmp_path_factory.mktemp("charts") / "data"
    nursery = RunningNursery(prepared_nursery.copy_to(folder))
    nursery.command("load_demo")
    nursery.start()
    try:
        yield nursery
    finally:
        nursery.stop()


@pytest.fixture(params=[True, False], ids=["with scripts", "without scripts"])
def office(request: pytest.FixtureRequest, chromium: Any, demo: RunningNursery) -> Iterator[Any]:
    """A page of somebody in the office; every complaint of the browser is kept."""
    context = chromium.new_context(base_url=demo.url, java_script_enabled=request.param)
    page = context.new_page()
    page.complaints = []
    page.scripts = request.param
    page.on("pageerror", lambda error: page.complaints.append(str(error)))
    page.on(
        "console",
        lambda said: page.complaints.append(said.text) if said.type == "error" else None,
    )
    page.goto(demo.link_for("office"))
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(re.compile(r".*/$"))
    yield page
    context.close()


@pytest.mark.parametrize("address", PAGES)
def test_every_chart_is_drawn_named_and_comes_after_its_table(office: Any, address: str) -> None:
    office.goto(address)
    charts = office.locator(".chart")
    count = charts.count()
    assert count >= PAGES[address]
    assert office.locator("table").count() >= 1
    first_table = office.locator("main table").first
    order = first_table.evaluate(
        "(table, chart) => table.compareDocumentPosition(chart)", charts.first.element_handle()
    )
    assert order & 4, "the numbers come first"  # DOCUMENT_POSITION_FOLLOWING, DOM standard
    for place in range(count):
        assert len(charts.nth(place).get_attribute("aria-label")) > 20
    if not office.scripts:
        assert charts.first.is_hidden()
        return
    office.wait_for_function(
        "() => [...document.querySelectorAll('.chart')].every(one => one.dataset.drawn)"
    )
    for place in range(count):
        chart = charts.nth(place)
        assert chart.locator("svg.main-svg").count() >= 1
        # Axes are labelled, and something is drawn in them.
        assert chart.locator(".xtick text, .ytick text").count() >= 3
        assert chart.locator(".trace, .bars .point, .scatterlayer path").count() >= 1
        box = chart.bounding_box()
        assert box["height"] > 150
    # Printed, it fits paper (A4 between margins of 14 mm: 688 dots of CSS); then it is as before.
    wide = "() => Number(document.querySelector('.chart .main-svg').getAttribute('width'))"
    on_screen = office.evaluate(wide)
    office.evaluate("dispatchEvent(new Event('beforeprint'))")
    office.wait_for_function(f"() => ({wide})() === 650")
    office.evaluate("dispatchEvent(new Event('afterprint'))")
    office.wait_for_function(f"() => ({wide})() === {on_screen}")
    assert office.complaints == []


def test_a_chart_page_fits_every_width(office: Any) -> None:
    for address in ("/durations/", "/survival/", "/forecast/?fern=OSMREG"):
        for width, height in SIZES:
            office.set_viewport_size({"width": width, "height": height})
            office.goto(address)
            over = office.locator("html").evaluate("e => e.scrollWidth - e.clientWidth")
            assert over <= 0, (address, width)
    assert office.complaints == []


def test_the_chart_script_comes_from_this_server_and_only_to_chart_pages(office: Any) -> None:
    asked: list[str] = []
    office.on("request", lambda request: asked.append(request.url))
    office.goto("/lots/")
    assert not any("plotly" in url for url in asked)
    office.goto("/durations/")
    office.wait_for_load_state()
    home = office.evaluate("location.origin")
    assert all(url.startswith((home, "data:", "blob:")) for url in asked)
    assert any("plotly" in url for url in asked) is office.scripts


def test_words_of_the_trade_stand_on_the_pages(office: Any) -> None:
    if not office.scripts:
        return  # the text is the same
    for address in (*PAGES, "/forecast/", "/forecast/back-test/", "/shared-causes/"):
        office.goto(address)
        text = office.locator("main").inner_text().lower()
        for jargon in ("p10", "p90", "quantile", "censored", "turnbull", "posterior", "monte"):
            assert jargon not in text, (address, jargon)
