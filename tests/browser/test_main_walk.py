"""Does the whole job go through by clicks, from a bare nursery to a pot that left the gate?

The same walk is done with scripts and without. Days lie in the past, so that a year and a half
goes by in one test; the pages take every day as a hand would write it in afterwards.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.browser.visitor import Visitor, visitor
from tests.running_nursery import RunningNursery

SOWN, GREEN, FROND, PRICKED, POTTED, READY = 400, 370, 270, 200, 110, 8


@pytest.fixture(params=["with scripts", "without scripts"])
def walker(
    request: pytest.FixtureRequest, chromium: Any, nursery: RunningNursery
) -> Iterator[Visitor]:
    """The manager of a bare nursery, before a browser with or without scripts."""
    with visitor(chromium, nursery, request, scripts=request.param == "with scripts") as person:
        person.sign_in("manager")
        yield person


def test_from_a_bare_nursery_to_a_pot_that_left(walker: Visitor) -> None:
    page = walker.page
    expect(page.get_by_role("heading", name="The first season, in order")).to_be_visible()
    _draw_house_and_fern(walker)
    today, lot = _collect_and_clean(walker)
    batch = _mix_and_sow(walker, lot, today)
    trays = _codes(page, r"\b\d\dW\d\d-\d{3}-\d\d-[0-9A-Z]\b")
    assert len(trays) == 3
    mat = trays[0]

    _print_labels(walker)
    walker.open_by_search(batch)
    expect(page.get_by_text("unlabelled")).to_have_count(0)

    walker.follow(mat)
    _look(walker, today - timedelta(days=SOWN - 7))
    expect(page.locator("#log")).to_contain_text("Looked, nothing new")
    _look(walker, today - timedelta(days=GREEN), stage="prothalli (gametophyte)")
    _look(walker, today - timedelta(days=FROND), stage="first frond", count=60)
    expect(page.locator("#state")).to_contain_text("60 patches alive")

    cells = _prick_out(walker, mat, today)
    pots = _pot_up(walker, cells, today)
    _look(walker, today - timedelta(days=READY), stage="ready")
    _dispatch(walker, today)

    page.get_by_role("link", name="Trace").first.click()
    _see_the_trace(page, lot=lot, batch=batch, mat=mat, cells=cells, pots=pots)


def _draw_house_and_fern(walker: Visitor) -> None:
    page = walker.page
    walker.follow("Draw the first house")
    walker.field("Code").fill("MIST")
    walker.field("Name").fill("Mist house")
    walker.press("Store the house")
    expect(page.get_by_role("heading", level=1)).to_have_text("New bench")
    walker.field("Code").fill("M1")
    walker.field("Rows").fill("3")
    walker.field("Columns").fill("4")
    walker.press("Store the bench")
    walker.menu("Ferns")
    walker.follow("Pick your ferns from the list")
    walker.follow("Name one by hand")
    walker.field("Genus").fill("Dryopteris")
    walker.field("Species").fill("filix-mas")
    walker.field("Common name").fill("male fern")
    walker.press("Store the fern")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Dryopteris filix-mas")


def _collect_and_clean(walker: Visitor) -> tuple[date, str]:
    page = walker.page
    walker.menu("Lots")
    walker.follow("Write down the first lot")
    expect(page.get_by_role("heading", level=1)).to_have_text("New origin")
    walker.field("Fern").select_option("DRYFIL")
    walker.field("stock plant").check()
    walker.field("origin not known").check()
    walker.press("Store the origin")
    expect(page.get_by_role("heading", level=1)).to_have_text("New lot")
    today = date.fromisoformat(walker.field("Collected on").input_value())
    walker.field("Collected on").fill(str(today - timedelta(days=SOWN + 10)))
    walker.press("Store the lot")
    lot = _codes(page, r"\bL\d\d-\d{3}-[0-9A-Z]\b")[0]
    walker.field("Cleaned on").fill(str(today - timedelta(days=SOWN + 5)))
    walker.field("Weight").fill("120")
    walker.field("How it is kept").fill("paper packet, 4 °C")
    walker.press("It is clean and stored")
    expect(page.locator("#facts")).to_contain_text("120 mg")
    return today, lot


def _mix_and_sow(walker: Visitor, lot: str, today: date) -> str:
    page = walker.page
    walker.menu("Media")
    walker.follow("Write down the first mixing")
    walker.field("Parts by volume").fill("peat:2 perlite:1")
    walker.field("Mixed on").fill(str(today - timedelta(days=SOWN)))
    walker.field("Made clean by").fill("steam")
    walker.field("Heat in the middle").fill("64")
    walker.field("For").fill("30")
    walker.press("Store the mixing")
    medium = _codes(page, r"\bM\d\d-\d{3}-[0-9A-Z]\b")[0]
    walker.open_by_search(lot)
    walker.follow("Sow it")
    expect(page.locator("#about-place")).to_contain_text("Before you start")
    walker.field("Started on").fill(str(today - timedelta(days=SOWN)))
    walker.field("Spores sown").fill("40")
    walker.field("Trays").fill("2")
    walker.field("And one unsown control tray, which shows stray spores").check()
    option = walker.field("Medium").locator("option", has_text=medium)
    walker.field("Medium").select_option(value=option.get_attribute("value"))
    walker.press("Sow it")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Batch")
    expect(page.locator("#trays")).to_contain_text("unsown control")
    expect(page.locator("#trays")).to_contain_text("M1, row 1, column 1")
    return _codes(page, r"\b\d\dW\d\d-\d{3}-[A-Z0-9]\b")[0]


def _print_labels(walker: Visitor) -> None:
    """The browser shows the PDF itself; what is on it tests/commands/test_labels.py reads."""
    walker.follow("Print the labels")
    asked = walker.page.url
    with walker.page.expect_response(lambda answer: answer.request.method == "POST") as told:
        walker.press("Make the labels")
    assert told.value.status == 200
    assert told.value.headers["content-type"] == "application/pdf"
    walker.page.goto(asked)


def _look(walker: Visitor, on: date, *, stage: str = "", count: int = 0) -> None:
    page = walker.page
    walker.field("When").fill(f"{on}T09:30")
    if stage:
        page.locator("#look .toggle", has_text=re.compile(f"^{re.escape(stage)}$")).click()
    if count:
        walker.field("Alive (patches)").fill(str(count))
    walker.press("Save the look" if stage else "Looked, nothing new")
    expect(page.locator(".undo-bar")).to_contain_text("Look logged by Greta Lunn")


def _prick_out(walker: Visitor, mat: str, today: date) -> str:
    page = walker.page
    walker.follow("Prick out")
    walker.field("How many trays?").fill("1")
    walker.press("Give out the codes")
    cells = _laid_out(page)
    walker.field(f"Left the parent for {cells}").fill("30")
    walker.field(f"Arrived in {cells}").fill("84")
    walker.field("Done on").fill(str(today - timedelta(days=PRICKED)))
    walker.field("They go to bench").select_option("M1")
    walker.field("Lost in the doing").fill("2")
    walker.field("more to come: come back on the day below").check()
    walker.field("Come back on").fill(str(today - timedelta(days=PRICKED - 21)))
    walker.press("Prick out")
    expect(page.get_by_role("heading", level=1)).to_contain_text(mat)
    expect(page.locator("#state")).to_contain_text("28 patches alive")
    walker.follow(cells)
    expect(page.locator("#state")).to_contain_text("84 plants alive")
    return cells


def _pot_up(walker: Visitor, cells: str, today: date) -> str:
    page = walker.page
    walker.follow("Pot up")
    walker.field("How many trays?").fill("1")
    walker.press("Give out the codes")
    pots = _laid_out(page)
    walker.field(f"Left the parent for {pots}").fill("80")
    walker.field(f"Arrived in {pots}").fill("40")
    walker.field("Done on").fill(str(today - timedelta(days=POTTED)))
    walker.field("They go to bench").select_option("M1")
    walker.field("nothing is left: clear it").check()
    walker.field("Lost in the doing").fill("4")
    walker.field("Cause of the loss").select_option("damaged")
    walker.press("Pot up")
    expect(page.locator("main")).to_contain_text("cleared")
    expect(page.get_by_role("heading", level=1)).to_contain_text(cells)
    walker.follow(pots)
    expect(page.locator("#state")).to_contain_text("40 pots alive")
    return pots


def _dispatch(walker: Visitor, today: date) -> None:
    page = walker.page
    walker.follow("Dispatch")
    walker.field("How many pots").fill("12")
    walker.field("To whom").fill("Marsh Lane Stall")
    walker.field("Leaves on").fill(str(today))
    walker.press("Dispatch")
    expect(page.locator("#state")).to_contain_text("28 pots alive")


def _see_the_trace(page: Any, *, lot: str, batch: str, mat: str, cells: str, pots: str) -> None:
    whole = page.locator("main").inner_text()
    for words in (lot, batch, mat, cells, pots, "stock plant", "peat:2 perlite:1", "Marsh Lane"):
        assert words in whole, words
    rows = page.locator("section[aria-labelledby=steps-head] tbody tr")
    steps = [" ".join(text.split()) for text in rows.all_inner_texts()]
    assert steps == [
        f"{mat} 30 patches {cells} 84 plants",
        f"{cells} 80 plants {pots} 40 pots",
        f"{pots} 12 pots dispatched to Marsh Lane Stall 12 pots",
    ]
    # From the lot forward the same pots are found.
    page.locator("main").get_by_role("link", name=lot, exact=True).click()
    page.locator("main").get_by_role("link", name="Trace", exact=True).click()
    forward = page.locator("main").inner_text()
    for code in (batch, mat, cells, pots):
        assert code in forward, code
    assert "12 pots to Marsh Lane Stall" in forward


def _laid_out(page: Any) -> str:
    """The one code that was laid out just now."""
    code: str = page.locator("#lay-out .line-what .code").inner_text()
    return code


def _codes(page: Any, pattern: str) -> list[str]:
    """The codes on the page, in order, each once."""
    return list(dict.fromkeys(re.findall(pattern, page.locator("main").inner_text())))
