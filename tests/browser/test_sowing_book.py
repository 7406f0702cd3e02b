"""Does the old sowing book come in by the browser, and is each of its steps fit to be shown?"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.visitor import visitor
from tests.running_nursery import RunningNursery

PICTURES = os.environ.get("NURSERY_PICTURES", "")
CHECKS = (Path(__file__).parent / "page_checks.js").read_text(encoding="utf-8")
BOOK = """Label;Species;Date sown;Bench;Trays;First green;Finished;Reason;Remarks
2024/17;Blechnum spicant;3.2.24;M1;;10.3.24;;;rain water only
18;Male fern;4.2.24;Lower frame;3;;;;
19;Driopteris filix-mas;4.2.24;Lower frame;1;;1.9.24;mould;"""


def test_from_a_spreadsheet_to_stored_records(
    chromium: Any, nursery: RunningNursery, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    file = tmp_path / "sowing book.csv"
    file.write_text(BOOK, encoding="cp1252")
    with visitor(chromium, nursery, request) as person:
        page = person.page
        person.sign_in("office")
        person.follow("an old sowing book from a spreadsheet")
        page.locator("input[type=file]").set_input_files(str(file))
        person.press("Read the book")
        _fit(page, "1")
        person.field("Days are written day first, like 24/11/2026 or 24.11.26").check()
        person.press("On to the ferns")
        expect(page.get_by_text("Spelt alike")).to_be_visible()
        _fit(page, "2")
        person.press("Look into every row")
        expect(page.get_by_role("heading", level=1)).to_have_text("What is in the files")
        _fit(page, "3")
        page.get_by_role("button", name="Store all").click()
        expect(page.locator("main, .messages").first).to_be_visible()
        person.open_by_search("2024-17")
        expect(page.locator("main")).to_contain_text("Struthiopteris spicant")


def _fit(page: Any, name: str) -> None:
    for size in ((1280, 800), (1024, 768), (360, 740), (640, 400)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate(CHECKS) == [], size
        if PICTURES:
            picture = Path(PICTURES) / f"book-{name}-{size[0]}.png"
            page.screenshot(path=str(picture), full_page=True)
    page.set_viewport_size({"width": 1280, "height": 800})
