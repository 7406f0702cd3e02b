"""Can a round be walked with the tablet: two taps for nothing new, seven for all there is to say?

Over plain http and a name that is not localhost, as in a house without its own certificate.
"""

from __future__ import annotations

import re
from datetime import date, timedelta
from uuid import RFC_4122, UUID

from playwright.sync_api import expect

from batches.core.codes import batch_code, tray_code
from tests.browser.tablet import Tablet, stored

LOOKS = "select t.code, c.by, c.signs, c.count, c.glance from batches_traycheck c "
LOOKS += "join batches_tray t on t.id = c.tray_id where c.source = 'tablet' order by c.device_seq"


def test_nothing_new_takes_two_taps_and_one_more_undoes_it(tablet: Tablet) -> None:
    page = tablet.page
    taps = tablet.taps
    page.locator(".tray-row").first.click()
    tablet.press("Looked, nothing new")
    assert tablet.taps - taps == 2
    expect(page.locator("#strip")).to_contain_text("all sent")
    expect(page.locator("h1")).to_have_text("T-01 is logged")
    assert stored(tablet.nursery, LOOKS) == [("T-01", "Bryn Hale", "", None, 0)]
    tablet.settle()
    tablet.press("Undo")
    expect(page.locator("#save")).to_have_text("Looked, nothing new")
    expect(page.locator("#strip")).to_contain_text("all sent")
    struck = "select count(*) from batches_traycheck where strikes_out_id is not null"
    assert stored(tablet.nursery, struck) == [(1,)]
    tablet.open()
    expect(page.locator(".tray-row").first).to_contain_text("T-01")


def test_the_next_tray_of_the_round_is_one_tap_away(tablet: Tablet) -> None:
    page = tablet.page
    page.locator(".tray-row").first.click()
    tablet.press("Looked, nothing new")
    page.locator("#next").click()
    expect(page.locator("h1")).to_have_text("T-02")
    tablet.settle()
    tablet.press("Looked, nothing new")
    expect(page.locator("#next")).to_contain_text("T-03")


def test_a_scanned_label_opens_its_tray_wherever_the_focus_is(tablet: Tablet) -> None:
    page = tablet.page
    expect(page.locator("#scan")).to_be_focused()
    tablet.scan("https://an-older-name.example/t/T-07")
    expect(page.locator("h1")).to_have_text("T-07")
    page.locator("#save").focus()
    tablet.scan("t-09")
    expect(page.locator("h1")).to_have_text("T-09")
    tablet.scan("26W14-073-05-X")
    expect(page.locator("#told")).to_contain_text("mistyped")
    tablet.scan("javascript:alert(1)")
    expect(page.locator("#told")).to_contain_text("no code of a tray")
    tablet.scan("Q-99")
    expect(page.locator("#told")).to_contain_text("no standing tray")
    expect(page.locator("h1")).to_have_text("T-09")
    tablet.open("#t=T-11")
    expect(page.locator("h1")).to_have_text("T-11")


# Made on the page: on a busy machine two taps of the driver may lie further apart than 400 ms.
TWO_TAPS = """button => {
    const { x, y } = button.getBoundingClientRect(), [clientX, clientY] = [x + 5, y + 5];
    for (const detail of [1, 2]) {
        const how = { bubbles: true, cancelable: true, detail, clientX, clientY };
        const hit = document.elementFromPoint(clientX, clientY);
        hit.dispatchEvent(new MouseEvent("click", how));
    }
}"""


def test_a_second_tap_of_wet_fingers_counts_once(tablet: Tablet) -> None:
    page = tablet.page
    page.locator(".tray-row").first.click()
    page.locator("#save").evaluate(TWO_TAPS)
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert len(stored(tablet.nursery, LOOKS)) == 1
    tablet.press("Look again")
    tablet.press("Count")
    page.get_by_role("button", name="+10", exact=True).evaluate(TWO_TAPS)
    expect(page.locator(".number")).to_have_text("10")
    expect(page.locator("#save")).to_have_text(re.compile("Save the look"))


def test_forty_trays_are_looked_over_in_three_taps(tablet: Tablet) -> None:
    page = tablet.page
    tablet.press("Bench by bench")
    taps = tablet.taps
    page.get_by_role("button", name="Look over Mist house, B1").click()
    page.locator(".tray-tick", has_text="T-07").click()
    tablet.press("All well except the ticked")
    assert tablet.taps - taps == 3
    expect(page.locator("h1")).to_have_text("T-07")
    expect(page.locator("#undo")).to_contain_text("39 trays looked over")
    expect(page.locator("#strip")).to_contain_text("all sent")
    looks = stored(tablet.nursery, LOOKS)
    assert len(looks) == 39
    assert {(by, glance) for _, by, _, _, glance in looks} == {("Bryn Hale", 1)}
    assert "T-07" not in {code for code, *_ in looks}


def test_the_tablet_reckons_codes_and_ids_as_the_program_does(tablet: Tablet) -> None:
    """Check letters against `batches.core.codes`; ids are of version 7 (RFC 9562)."""
    started = date(2026, 3, 30)
    codes = [
        tray_code(batch_code(started + timedelta(weeks=n), 7 * n + 1), n % 150 + 1)
        for n in range(60)
    ]
    read = tablet.page.evaluate(
        """async (codes) => {
      const { readScan } = await import("/static/js/bench_scan.js");
      const kinds = {};
      for (const code of codes) kinds[code] = readScan(code).kind;
      return kinds;
    }""",
        [*codes, *(code.lower() for code in codes), *(mistyped(code) for code in codes)],
    )
    assert {read[code] for code in codes} == {"tray"}
    assert {read[code.lower()] for code in codes} == {"tray"}
    assert {read[mistyped(code)] for code in codes} == {"wrong"}
    ids = tablet.page.evaluate(
        """async () => {
      const { newId } = await import("/static/js/bench_outbox.js");
      return [1000, 1700000000000, 1800000000000].flatMap((at) => [newId(at), newId(at)]);
    }"""
    )
    assert len(set(ids)) == 6
    assert [UUID(one).version for one in ids] == [7] * 6
    assert {UUID(one).variant for one in ids} == {RFC_4122}
    assert [UUID(one).int >> 80 for one in ids[::2]] == [1000, 1700000000000, 1800000000000]


def mistyped(code: str) -> str:
    """Swap the first digit for the next."""
    return str((int(code[0]) + 1) % 10) + code[1:]
