"""How many taps does a round take: a bench looked over, a tray moved, a look ticked off?

Taps are counted by the browser: every press of a pointer, on whatever page.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.full_bench import write_full_bench
from tests.browser.visitor import Visitor, visitor
from tests.running_nursery import PreparedNursery, RunningNursery

COUNT_TAPS = """
addEventListener("pointerdown", () => {
  localStorage.setItem("taps", String(1 + Number(localStorage.getItem("taps") || 0)));
}, true);
"""


@pytest.fixture(scope="module")
def full_bench(
    prepared_nursery: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[RunningNursery]:
    """A nursery with forty covered trays on one bench of forty, and a bench that is free."""
    folder = tmp_path_factory.mktemp("benches")
    write_full_bench(folder / "records")
    nursery = RunningNursery(prepared_nursery.copy_to(folder / "data"))
    nursery.command("import_records", str(folder / "records"))
    nursery.start()
    yield nursery
    nursery.stop()


@pytest.fixture
def hand(
    request: pytest.FixtureRequest, chromium: Any, full_bench: RunningNursery
) -> Iterator[Visitor]:
    """The nursery hand, whose taps are counted."""
    with visitor(chromium, full_bench, request) as person:
        person.page.context.add_init_script(COUNT_TAPS)
        person.sign_in("hand")
        yield person


def test_forty_trays_are_looked_over_in_three_taps(hand: Visitor) -> None:
    page = hand.page
    page.get_by_role("link", name="Bench by bench").click()
    _start_counting(page)
    hand.follow("Look it over")
    page.locator(".tile", has_text="T-07").click()
    hand.press("All well except the ticked")
    assert _taps(page) == 3
    # The one that was not well is open, to be looked at closely.
    expect(page.get_by_role("heading", level=1)).to_contain_text("T-07")
    expect(page.locator("#messages")).to_contain_text("39")
    hand.press("Looked, nothing new")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Look over")
    page.get_by_role("link", name="Today").click()
    # What is left stands on another bench.
    expect(page.locator(".line")).to_have_count(1)
    expect(page.locator(".line")).to_contain_text("U-01")


def test_a_tray_moves_on_the_map_in_two_taps_without_a_new_page(hand: Visitor) -> None:
    page = hand.page
    hand.menu("Bench map")
    _place(page, "B1", 1, 1).click()
    expect(page.locator("#tray-card")).to_contain_text("T-01")
    _mark_page(page)
    _start_counting(page)
    page.locator("#tray-card").get_by_role("button", name="Move").click()
    page.get_by_role("button", name="free place, B2, row 1, column 2").click()
    expect(_place(page, "B2", 1, 2)).to_have_attribute("href", "/trays/T-01/")
    expect(_place(page, "B1", 1, 1)).to_have_class(re.compile("free"))
    expect(page.locator("#tray-card")).to_contain_text("B2, row 1, column 2")
    assert _taps(page) == 2
    assert _is_marked(page)
    page.reload()
    expect(_place(page, "B2", 1, 2)).to_have_attribute("href", "/trays/T-01/")


def test_a_bench_is_one_stop_of_the_tab_key_and_arrows_go_from_place_to_place(
    hand: Visitor,
) -> None:
    page = hand.page
    hand.menu("Bench map")
    _place(page, "B1", 3, 3).focus()
    page.keyboard.press("ArrowRight")
    expect(_place(page, "B1", 3, 4)).to_be_focused()
    page.keyboard.press("ArrowUp")
    expect(_place(page, "B1", 2, 4)).to_be_focused()
    page.keyboard.press("End")
    expect(_place(page, "B1", 2, 8)).to_be_focused()
    page.keyboard.press("ArrowRight")
    expect(_place(page, "B1", 2, 8)).to_be_focused()
    stops = "document.querySelectorAll('#bench-{} .cell:not([tabindex=\"-1\"])').length"
    assert [page.evaluate(stops.format(bench)) for bench in ("B1", "B2", "B3")] == [1, 1, 1]
    page.keyboard.press("Enter")
    card = page.locator("#tray-card")
    expect(card).to_contain_text(_place(page, "B1", 2, 8).inner_text())
    # The next stops are the next bench's: its link, its scrolled part, its places.
    card.get_by_role("button", name="Close").press("Enter")
    expect(_place(page, "B1", 2, 8)).to_be_focused()
    for _ in range(3):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.closest('#bench-B2 .cell') !== null"):
            break
    expect(page.locator("#bench-B2 .cell:focus")).to_have_count(1)


def test_what_to_know_before_sowing_stands_above_the_form_on_a_phone(hand: Visitor) -> None:
    page = hand.page
    hand.menu("Sow")
    hand.follow("From spores")
    about, form = page.locator("#about-place"), page.locator("form.form")
    assert about.bounding_box()["x"] > form.bounding_box()["x"]
    page.set_viewport_size({"width": 360, "height": 740})
    assert about.bounding_box()["y"] < form.bounding_box()["y"]
    page.locator("#id_lot").select_option(index=1)
    expect(about).to_contain_text("Before you start")
    expect(about).to_be_in_viewport()


def test_a_card_on_a_phone_lies_in_sight_and_makes_room_for_the_move(hand: Visitor) -> None:
    page = hand.page
    page.set_viewport_size({"width": 360, "height": 740})
    page.get_by_role("button", name="Menu").click()
    hand.menu("Bench map")
    _place(page, "B1", 2, 3).click()
    card = page.locator("#tray-card")
    expect(card).to_be_in_viewport(ratio=0.5)
    card.get_by_role("button", name="Close").click()
    expect(card).to_have_count(0)
    _place(page, "B1", 2, 3).click()
    card.get_by_role("button", name="Move").click()
    expect(card).to_have_count(0)
    expect(page.locator("#move-bar")).to_contain_text("choose a free place")


def test_a_look_is_ticked_off_on_today_and_undone_without_a_new_page(
    hand: Visitor, full_bench: RunningNursery
) -> None:
    page = hand.page
    line = page.locator("#line-look-U-01")
    expect(line).to_contain_text("covered tray")
    _mark_page(page)
    _start_counting(page)
    line.get_by_role("button", name="Looked, nothing new").click()
    expect(line).to_contain_text("Next look")
    assert _taps(page) == 1
    page.wait_for_timeout(450)  # a second tap sooner than this is taken for wet fingers
    line.get_by_role("button", name="Undo").click()
    expect(line.get_by_role("button", name="Looked, nothing new")).to_be_visible()
    assert _taps(page) == 2
    assert _is_marked(page)
    page.reload()
    expect(line.get_by_role("button", name="Looked, nothing new")).to_be_visible()


def _start_counting(page: Any) -> None:
    page.evaluate("localStorage.setItem('taps', '0')")


def _place(page: Any, bench: str, row: int, column: int) -> Any:
    """Give what stands in a place of the map."""
    line = page.locator(f"#bench-{bench} .bench-grid tr").nth(row - 1)
    return line.locator("td").nth(column - 1).locator(".cell")


def _taps(page: Any) -> int:
    return int(page.evaluate("localStorage.getItem('taps')"))


def _mark_page(page: Any) -> None:
    page.evaluate("window.sameAsBefore = true")


def _is_marked(page: Any) -> bool:
    return bool(page.evaluate("window.sameAsBefore === true"))
