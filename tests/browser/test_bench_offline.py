"""Does a tablet lose nothing, whatever happens to the network, the server, its clock and itself?"""

from __future__ import annotations

import json
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import expect

from tests.browser import cutting_proxy
from tests.browser.cutting_proxy import CuttingProxy
from tests.browser.tablet import CLOCK_OFF, Tablet, held, stored
from tests.running_nursery import RunningNursery

LOOKS = (
    "select t.code from batches_traycheck c join batches_tray t on t.id = c.tray_id "
    "where c.source = 'tablet' and c.strikes_out_id is null order by c.device_seq"
)


def start_again(nursery: RunningNursery, *more: str) -> None:
    """Start a nursery's server again where it was."""
    port = str(urlsplit(nursery.url).port)
    nursery.start("--lan", "--host", "127.0.0.1", "--http", "--port", port, *more)


def log_by_scan(tablet: Tablet, *codes: str) -> None:
    """Log “nothing new” for some trays."""
    for code in codes:
        tablet.scan(code)
        expect(tablet.page.locator("h1")).to_have_text(code)
        tablet.page.locator("#save").click()
        expect(tablet.page.locator("h1")).to_have_text(f"{code} is logged")
        tablet.settle()


def send_now(tablet: Tablet) -> None:
    """Press “Send now” on the page of what waits."""
    tablet.page.locator("#strip").click()
    tablet.press("Send now")


def test_looks_logged_without_the_server_survive_a_reload_and_are_sent(tablet: Tablet) -> None:
    page, nursery = tablet.page, tablet.nursery
    log_by_scan(tablet, "T-01")
    expect(page.locator("#strip")).to_contain_text("all sent")
    nursery.stop()
    log_by_scan(tablet, "T-02", "T-03")
    expect(page.locator("#strip")).to_contain_text("2 waiting, last sent")
    expect(page.locator("#strip")).to_have_attribute("data-state", "waiting")
    start_again(nursery)
    page.route("**/sync/**", lambda route: route.abort())
    tablet.reload()
    expect(page.locator("#strip")).to_contain_text("2 waiting")
    expect(page.locator("#who")).to_contain_text("Bryn Hale")
    page.unroute("**/sync/**")
    send_now(tablet)
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert stored(nursery, LOOKS) == [("T-01",), ("T-02",), ("T-03",)]
    assert tablet.kept("items") == []
    assert [one["state"] for one in tablet.kept("sent")] == ["created"] * 3


@pytest.mark.parametrize(
    "trick",
    [cutting_proxy.cut_answer, cutting_proxy.kill_in_the_middle, cutting_proxy.kill_after_storing],
)
def test_a_line_cut_at_the_worst_moment_neither_loses_nor_doubles(
    behind: Tablet, line: CuttingProxy, trick: cutting_proxy.Trick
) -> None:
    line.trick = trick
    log_by_scan(behind, "T-05")
    expect(behind.page.locator("#strip")).to_contain_text("1 waiting")
    assert line.tricks_played >= 1
    assert len(behind.kept("items")) == 1
    line.trick = None
    if behind.nursery.process is None:
        start_again(behind.nursery)
    send_now(behind)
    expect(behind.page.locator("#strip")).to_contain_text("all sent")
    assert stored(behind.nursery, LOOKS) == [("T-05",)]
    came_before = trick is not cutting_proxy.kill_in_the_middle
    assert behind.kept("sent")[0]["state"] == ("duplicate" if came_before else "created")


def test_a_sign_in_page_of_the_network_takes_nothing_away(
    behind: Tablet, line: CuttingProxy
) -> None:
    line.trick = cutting_proxy.portal
    log_by_scan(behind, "T-05")
    expect(behind.page.locator("#strip")).to_contain_text("1 waiting")
    behind.page.locator("#strip").click()
    expect(behind.page.locator("main")).to_contain_text("Something other than the nursery")
    assert stored(behind.nursery, LOOKS) == []
    line.trick = None
    behind.press("Send now")
    expect(behind.page.locator("#strip")).to_contain_text("all sent")
    assert stored(behind.nursery, LOOKS) == [("T-05",)]


def test_two_hundred_looks_wait_and_go_in_lots(behind: Tablet, line: CuttingProxy) -> None:
    page = behind.page
    behind.nursery.stop()
    for _ in range(5):
        if not page.locator(".bench-row").count():
            behind.press("Bench by bench")
        page.get_by_role("button", name="Look over Mist house, B1").click()
        behind.press("All well")
        expect(page.locator("h1")).to_have_text("The round")
        behind.settle()
    expect(page.locator("#strip")).to_contain_text("200 waiting")
    start_again(behind.nursery)
    line.lots.clear()
    line.trick = cutting_proxy.at_most(30)
    send_now(behind)
    expect(page.locator("#strip")).to_contain_text("all sent", timeout=60_000)
    assert line.lots[0] == 50
    assert line.lots[1] == 25
    assert len(stored(behind.nursery, LOOKS)) == 200
    order = "select device_seq from batches_traycheck where source = 'tablet' order by rowid"
    sequence = [seq for (seq,) in stored(behind.nursery, order)]
    assert sequence == sorted(sequence)
    assert len(set(sequence)) == 200


def test_a_revoked_tablet_keeps_its_looks_and_says_why(tablet: Tablet, tmp_path: Path) -> None:
    page, nursery = tablet.page, tablet.nursery
    revoke = "from batches.models import Device; from django.utils import timezone; "
    revoke += "print(Device.objects.update(revoked_at=timezone.now()))"
    assert nursery.command("shell", "--no-imports", "--command", revoke).stdout.strip() == "1"
    log_by_scan(tablet, "T-05")
    expect(page.locator("#strip")).to_contain_text("not enrolled, 1 waiting")
    expect(page.locator("#strip")).to_have_attribute("data-state", "trouble")
    expect(page.locator("#warnings")).to_contain_text(
        "This tablet was revoked. Ask a manager to enrol it again; nothing is lost."
    )
    assert len(tablet.kept("items")) == 1
    page.goto(f"{tablet.address}/bench/")
    expect(page.locator("h1")).to_have_text("Sign in")
    expect(page.locator("#kept-here")).to_contain_text("1 look waits on this tablet")
    with page.expect_download() as download:
        tablet.press("Save them to a file")
    download.value.save_as(tmp_path / "waiting.json")
    saved = json.loads((tmp_path / "waiting.json").read_text(encoding="utf-8"))
    assert [one["tray"] for one in saved["items"]] == ["T-05"]
    page.goto(f"{tablet.address}/enrol/")
    expect(page.locator("#kept-here")).to_contain_text("1 look waits on this tablet")
    tablet.enrol("Mist house again")
    tablet.open()
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert stored(nursery, LOOKS) == [("T-05",)]


def test_two_tablets_that_saw_different_stages_are_both_heard(
    request: pytest.FixtureRequest, chromium: Any, tablet: Tablet
) -> None:
    with held(chromium, tablet.nursery, request) as other:
        other.enrol("Cold frame")
        other.open()
        other.as_person("Greta Lunn")
        for one in (tablet, other):
            one.scan("T-05")
            expect(one.page.locator("h1")).to_have_text("T-05")
        tablet.page.locator(".seen .tick", has_text="first frond").click()
        tablet.press("Save the look")
        expect(tablet.page.locator("#strip")).to_contain_text("all sent")
        other.page.locator(".seen .tick", has_text="prothalli").click()
        other.press("Save the look")
        expect(other.page.locator("#strip")).to_contain_text("1 needs a look")
        other.page.locator("#strip").click()
        expect(other.page.locator(".said-by-server").first).to_contain_text("T-05 is past that")
        other.press("I have read it")
        expect(other.page.locator("#strip")).to_contain_text("all sent")
    nursery = tablet.nursery
    waits = stored(nursery, "select by, item from batches_tosettle where settled_at is null")
    assert [(by, json.loads(item)["stage_seen"]) for by, item in waits] == [
        ("Greta Lunn", "gametophyte")
    ]
    stage = "select stage from batches_tray where code = 'T-05'"
    assert stored(nursery, stage) == [("first_frond",)]
    assert len(stored(nursery, LOOKS)) == 2


@pytest.mark.parametrize("days", [-2, 2])
def test_a_clock_two_days_off_is_put_right_and_said(
    request: pytest.FixtureRequest, chromium: Any, house: RunningNursery, days: int
) -> None:
    with held(chromium, house, request) as tablet:
        off = str(days * 24 * 3600 * 1000)
        tablet.page.add_init_script(CLOCK_OFF.replace("OFF", off))
        tablet.enrol()
        tablet.open()
        tablet.as_person("Bryn Hale")
        expect(tablet.page.locator("#warnings")).to_contain_text("This tablet's clock says")
        log_by_scan(tablet, "T-05")
        expect(tablet.page.locator("#strip")).to_contain_text("all sent")
        tablet.page.locator("#strip").click()
        expect(tablet.page.locator(".waiting-row")).to_contain_text("this tablet's clock:")
    times = "select seen_at, seen_at_device from batches_traycheck where source = 'tablet'"
    seen, said = (datetime.fromisoformat(one) for one in stored(house, times)[0])
    now = datetime.now(UTC).replace(tzinfo=None)
    assert abs(now - seen) < timedelta(minutes=2)
    assert abs(said - seen - timedelta(days=days)) < timedelta(minutes=2)


def test_a_clock_set_right_between_look_and_sending_moves_no_look(
    request: pytest.FixtureRequest, chromium: Any, house: RunningNursery
) -> None:
    """The tablet runs two days ahead, logs while the server is away, and is then set right."""
    with held(chromium, house, request) as tablet:
        tablet.page.add_init_script(CLOCK_OFF.replace("OFF", str(2 * 24 * 3600 * 1000)))
        tablet.enrol()
        tablet.open()
        tablet.as_person("Bryn Hale")
        expect(tablet.page.locator("#warnings")).to_contain_text("This tablet's clock says")
        tablet.nursery.stop()
        log_by_scan(tablet, "T-05")
        tablet.page.evaluate("window.clockOff = 0")
        start_again(house)
        send_now(tablet)
        expect(tablet.page.locator("#strip")).to_contain_text("all sent")
    times = "select seen_at from batches_traycheck where source = 'tablet'"
    seen = datetime.fromisoformat(stored(house, times)[0][0])
    assert abs(datetime.now(UTC).replace(tzinfo=None) - seen) < timedelta(minutes=2)


def test_a_restored_older_server_is_filled_from_the_journal(tablet: Tablet) -> None:
    page, nursery = tablet.page, tablet.nursery
    log_by_scan(tablet, "T-01")
    expect(page.locator("#strip")).to_contain_text("all sent")
    made = nursery.answer("backup", str(nursery.data.parent / "backups"))
    log_by_scan(tablet, "T-02", "T-03")
    tablet.press("Undo")
    expect(page.locator("#strip")).to_contain_text("all sent")
    before = stored(nursery, LOOKS + ", c.id")
    nursery.stop()
    nursery.command("restore", made["file"])
    assert stored(nursery, LOOKS) == [("T-01",)]
    start_again(nursery)
    tablet.reload()
    send_now(tablet)
    expect(page.locator(".waiting-row")).to_have_count(4)
    expect(page.locator("#strip")).to_contain_text("all sent")
    until = time.monotonic() + 20
    while stored(nursery, LOOKS + ", c.id") != before and time.monotonic() < until:
        page.wait_for_timeout(200)
    assert stored(nursery, LOOKS + ", c.id") == before
    struck = "select count(*) from batches_traycheck where strikes_out_id is not null"
    assert stored(nursery, struck) == [(1,)]
    assert len(tablet.kept("sent")) == 4
