"""How are the README's pictures made again? `python -m tests.browser.pictures`.

The demo nursery is loaded into a folder that is thrown away, its pages are opened in Chromium at
a desk's size, and what is seen is stored with few colours, so that the files stay small.
"""

from __future__ import annotations

import io
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import sync_playwright

from tests.running_nursery import ROOT, RunningNursery

CHROMIUM = os.environ.get("NURSERY_CHROMIUM", "/usr/bin/chromium")
PICTURES = {"today.png": "/", "bench-map.png": "/bench-map/"}
WIDTH, HEIGHT = 1280, 800
MOST_BYTES = 200_000
COLOURS = 96


def main() -> int:
    """Make every picture; 1 where one came out too large."""
    with tempfile.TemporaryDirectory(prefix="frondbook-pictures-") as folder:
        nursery = RunningNursery(Path(folder) / "data")
        nursery.command("load_demo")
        nursery.start()
        try:
            return _take_all(nursery)
        finally:
            nursery.stop()


def _take_all(nursery: RunningNursery) -> int:
    too_large = 0
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        page = browser.new_page(
            base_url=nursery.url, viewport={"width": WIDTH, "height": HEIGHT}, locale="en-GB"
        )
        page.goto(nursery.link_for("manager"))
        page.get_by_role("button", name="Sign in").click()
        for name, address in PICTURES.items():
            size = _take(page, address, ROOT / "docs" / name)
            too_large += size > MOST_BYTES
            sys.stdout.write(f"docs/{name}: {size:,} bytes\n")
        browser.close()
    return int(too_large > 0)


def _take(page: Any, address: str, to: Path) -> int:
    """Store a picture of the page's first screen; returns its size in bytes."""
    page.goto(address)
    page.wait_for_function("document.fonts.status === 'loaded'")
    seen = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    few = seen.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(to, optimize=True)
    return to.stat().st_size


if __name__ == "__main__":
    raise SystemExit(main())
