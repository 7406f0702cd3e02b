"""What does a browser make of the pages: weight, requests, first paint, one cell of the map?

A nursery of 5,000 standing trays, of which the map shows 3,000 places at once, in Chromium. The
processor is slowed six times (Chromium's own throttle) where time is measured; each page is opened
as on a first visit, and the median of five is told.
"""

from __future__ import annotations

import os
import statistics
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.bench.figure import Figure
from tests.running_nursery import RunningNursery

CHROMIUM = os.environ.get("NURSERY_CHROMIUM", "/usr/bin/chromium")
REPEATS, SLOWED = 5, 6
MOST_BYTES, MOST_REQUESTS, PAINT_MS = 60_000, 6, 1_500
PHONE = {"width": 412, "height": 823}
#: what the map's own script asks the server for is answered at once, so that the time is that of
#: the browser: from the tap on a free place until both places are laid out anew, and until the
#: tray's card is so, too
ONE_CELL = """async () => {
  const benches = document.getElementById("benches");
  const free = benches.querySelector(".cell.free");
  const tray = benches.querySelector("a.cell");
  const [address, code] = [tray.getAttribute("href"), tray.pathname.split("/")[2]];
  const card = `<button data-move-tray="${code}" data-revision="1">Move</button>`;
  const drawn = (cell, html) => {
    const td = cell.closest("td");
    const bench = cell.closest(".bench-plan").id.slice("bench-".length);
    return { bench, row: td.parentElement.rowIndex + 1, column: td.cellIndex, html };
  };
  const there = free.closest("td");
  const places = [drawn(free, tray.outerHTML), drawn(tray, free.outerHTML)];
  let moved = false;
  // No stream is read: the browser would draw a frame meanwhile, and be measured at that.
  const said = (found) => ({ ok: true, json: async () => found, text: async () => found });
  window.fetch = async (address, { method } = {}) => {
    if (method !== "POST") return said(moved ? card + "<p>moved</p>" : card);
    moved = true;
    return said({ places, message: "Moved." });
  };
  const side = document.getElementById("tray-card-place");
  const turn = (node) => new Promise((done) => {
    new MutationObserver((_, watch) => { watch.disconnect(); done(); }).observe(node, { childList: true });
  });
  let opened = turn(side);
  tray.click();
  await opened;
  side.querySelector("button").click();
  document.body.offsetHeight;
  opened = turn(side);
  const drawnAnew = turn(there);
  const begun = performance.now();
  free.click();
  await drawnAnew;
  document.body.offsetHeight;
  const swapped = performance.now() - begun;
  await opened;
  document.body.offsetHeight;
  const withCard = performance.now() - begun;
  if (there.querySelector("a")?.getAttribute("href") !== address) throw new Error("not moved");
  return [swapped, withCard];
}"""  # noqa: E501 - a script
WHOLE_MAP = """() => {
  const benches = document.getElementById("benches");
  const whole = benches.innerHTML;
  document.body.offsetHeight;
  const begun = performance.now();
  benches.innerHTML = whole;
  document.body.offsetHeight;
  return [performance.now() - begun];
}"""
FIRST_PAINT = """() => new Promise((done) => new PerformanceObserver((list) => {
  const first = list.getEntriesByName("first-contentful-paint")[0];
  if (first) done(first.startTime);
}).observe({ type: "paint", buffered: true }))"""


def figures() -> Iterator[Figure]:
    """Open the pages, one after the other; none where no Chromium is. Takes about a minute."""
    if not Path(CHROMIUM).exists():
        return
    with large_nursery() as nursery, _browser() as browser:
        context = browser.new_context(viewport=PHONE)
        sign_in(context, nursery)
        for name, address in pages_of(nursery).items():
            yield from _weight(context, name, nursery.url + address)
        for name, address in pages_of(nursery).items():
            yield _paint(context, name, nursery.url + address)
        yield from _swap(context, nursery.url + "/bench-map/")


@contextmanager
def large_nursery() -> Iterator[RunningNursery]:
    """A nursery of 5,000 standing trays, served."""
    with tempfile.TemporaryDirectory() as folder:
        nursery = RunningNursery(Path(folder))
        nursery.command("migrate", "--verbosity", "0")
        make = (
            "from tests.simulate.at_scale import make_nursery, TENTH; make_nursery(TENTH); "
            "from batches.models import Tray; "
            "standing = Tray.objects.filter(bench__code='B0000', row=10, column=10); "
            "print(standing.update(bench=None, row=None, column=None))"  # a free place
        )
        nursery.command("shell", "--no-imports", "--command", make, timeout=300)
        nursery.start()
        try:
            yield nursery
        finally:
            nursery.stop()


def pages_of(nursery: RunningNursery) -> dict[str, str]:
    """Give the pages that are looked at, by name; the tray is one that stands on the map."""
    ask = (
        "from batches.models import Tray; "
        "print(Tray.objects.active().order_by('pk').values_list('code', flat=True)[7])"
    )
    said = nursery.command("shell", "--no-imports", "--command", ask).stdout
    tray = said.splitlines()[-1]
    return {"Today": "/", "map": "/bench-map/", "bench": "/bench/", "tray": f"/trays/{tray}/"}


@contextmanager
def _browser() -> Iterator[Any]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        arguments = ["--no-sandbox", "--disable-background-networking"]
        browser = driver.chromium.launch(executable_path=CHROMIUM, args=arguments)
        yield browser
        browser.close()


def sign_in(context: Any, nursery: RunningNursery) -> None:
    """Sign the manager in, in a browser's context."""
    page = context.new_page()
    page.goto(nursery.link_for("manager"))
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(nursery.url + "/")
    page.close()


@contextmanager
def _first_visit(context: Any, *, slowed: int = 1) -> Iterator[Any]:
    """Give a page of a browser that keeps no files yet, perhaps on a slower processor."""
    known = context.storage_state()
    fresh = context.browser.new_context(viewport=PHONE, storage_state=known)
    page = fresh.new_page()
    session = fresh.new_cdp_session(page)
    session.send("Network.enable")
    session.send("Network.setCacheDisabled", {"cacheDisabled": True})
    session.send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    yield page
    fresh.close()


def _weight(context: Any, name: str, address: str) -> list[Figure]:
    with _first_visit(context) as page:
        sent: list[Any] = []
        page.on("requestfinished", lambda request: sent.append(request))
        page.goto(address, wait_until="networkidle")
        sizes = {
            one.url: one.sizes()["responseBodySize"]
            for one in sent
            if not one.url.startswith(("data:", "blob:"))
        }
    fonts = sum(size for url, size in sizes.items() if url.endswith(".woff2"))
    # What a page's script asks for afterwards is the day's work, not the page.
    asked = {one.url for one in sent if one.resource_type in {"fetch", "xhr"}}
    of_charts = sum("plotly" in url for url in sizes)
    weight = sum(size for url, size in sizes.items() if url not in asked) - fonts
    requests = len(set(sizes) - asked)
    return [
        Figure(f"{name} page, first visit, without fonts", weight / 1000, "KB", None, None,
               f"≤ {MOST_BYTES // 1000}", weight <= MOST_BYTES),
        Figure(f"{name} page, its requests, fonts among them", requests, "requests", None, None,
               f"≤ {MOST_REQUESTS}", requests <= MOST_REQUESTS),
        Figure(f"{name} page, fonts", fonts / 1000, "KB", None, None, "told", True),
        Figure(f"{name} page, files of the charts", of_charts, "files", None, None, "= 0",
               of_charts == 0),
    ]  # fmt: skip


def _median(ask: Callable[[], float]) -> float:
    return statistics.median(ask() for _ in range(REPEATS))


def _paint(context: Any, name: str, address: str) -> Figure:
    def once() -> float:
        with _first_visit(context, slowed=SLOWED) as page:
            page.goto(address)
            return float(page.evaluate(FIRST_PAINT))

    took = _median(once)
    return Figure(f"{name} page, first paint, processor slowed {SLOWED} times", took, "ms", None,
                  None, f"< {PAINT_MS}", took < PAINT_MS)  # fmt: skip


def _swap(context: Any, address: str) -> list[Figure]:
    def once(script: str) -> list[float]:
        with _first_visit(context, slowed=SLOWED) as page:
            page.goto(address, wait_until="networkidle")
            page.wait_for_load_state("load")
            return list(map(float, page.evaluate(script)))

    moved = [once(ONE_CELL) for _ in range(REPEATS)]
    one, with_card = (statistics.median(times) for times in zip(*moved, strict=True))
    whole = _median(lambda: once(WHOLE_MAP)[0])
    name = f"map of 3,000 places, one tray moved, processor slowed {SLOWED} times"
    return [
        Figure(f"{name}: both places", one, "ms", whole, one / whole, "≤ 0.05 ×",
               one <= 0.05 * whole),
        Figure(f"{name}: and its card", with_card, "ms", whole, with_card / whole, "told", True),
    ]  # fmt: skip
