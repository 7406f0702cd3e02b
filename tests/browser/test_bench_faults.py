"""Does one look that always meets a fault of the server hold up no other, and is it ever lost?"""

from __future__ import annotations

import sqlite3
from contextlib import closing

from playwright.sync_api import expect

from tests.browser.cutting_proxy import CuttingProxy, fault_at
from tests.browser.tablet import Tablet, stored
from tests.running_nursery import RunningNursery

LOOKS = "select count(*) from batches_traycheck where source = 'tablet'"
#: a database that breaks at one tray's looks, as a program does that nobody foresaw
BREAK = """
create trigger broken before insert on batches_traycheck
when new.tray_id = (select id from batches_tray where code = 'T-30')
begin select raise(abort, 'a deed that nobody foresaw'); end
"""


def look_over_the_bench(tablet: Tablet) -> None:
    """Log “all well” for forty trays at once."""
    tablet.press("Bench by bench")
    tablet.page.get_by_role("button", name="Look over Mist house, B1").click()
    tablet.press("All well")
    expect(tablet.page.locator("h1")).to_have_text("The round")
    tablet.settle()


def send_now(tablet: Tablet) -> None:
    """Press “Send now” on the page of what waits."""
    tablet.page.locator("#strip").click()
    tablet.press("Send now")


def change_database(nursery: RunningNursery, statement: str) -> None:
    """Change the running nursery's database, without the program."""
    with closing(sqlite3.connect(nursery.data / "nursery.sqlite3", timeout=20)) as base, base:
        base.execute(statement)


def test_a_server_that_fails_at_everything_is_asked_seldom_and_blames_no_look(
    behind: Tablet, line: CuttingProxy
) -> None:
    line.trick = fault_at()
    look_over_the_bench(behind)
    behind.page.locator("#strip").click()
    expect(behind.page.locator("main")).to_contain_text("met a fault (500)")
    expect(behind.page.locator("#strip")).to_contain_text("40 waiting")
    assert len(behind.kept("items")) == 40
    assert line.lots[:7] == [40, 20, 10, 5, 2, 1, 1]
    assert set(line.lots[7:]) <= {1}
    line.trick = None
    send_now(behind)
    expect(behind.page.locator("#strip")).to_contain_text("all sent")
    assert stored(behind.nursery, LOOKS) == [(40,)]


def test_looks_that_always_fail_wait_apart_until_the_fault_is_mended(
    behind: Tablet, line: CuttingProxy
) -> None:
    """One fails its whole message before it reaches the program, one fails in the program."""
    page, nursery = behind.page, behind.nursery
    line.trick = fault_at("T-20")
    change_database(nursery, BREAK)
    look_over_the_bench(behind)
    expect(page.locator("#strip")).to_have_text("2 need a look")
    assert stored(nursery, LOOKS) == [(38,)]
    assert {one["item"]["tray"] for one in behind.kept("items")} == {"T-20", "T-30"}
    assert len(line.lots) <= 30
    page.locator("#strip").click()
    rows = page.locator(".waiting-row")
    for tray, words in (("T-20", "met a fault (500)"), ("T-30", "wrote it to its log")):
        row = rows.filter(has_text=tray).filter(has_text="met a fault")
        expect(row).to_contain_text(words)
        expect(row).to_contain_text("It is kept here and tried again at")
        expect(row).to_contain_text("save what waits to a file")
    behind.scan("U-01")
    behind.press("Looked, nothing new")
    expect(page.locator("h1")).to_have_text("U-01 is logged")
    expect(page.locator("#strip")).to_have_text("2 need a look")
    assert stored(nursery, LOOKS) == [(39,)]
    line.trick = None
    change_database(nursery, "drop trigger broken")
    send_now(behind)
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert stored(nursery, LOOKS) == [(41,)]
    assert behind.kept("items") == []
