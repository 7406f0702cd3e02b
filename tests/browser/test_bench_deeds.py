"""Are plants picked and potted at the bench, taken back, and is what was saved taken in?

One nursery and one enrolled tablet serve all of these; each opens the tablet's page anew.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.conftest import watched_page
from tests.browser.secure import serve_by_name
from tests.browser.tablet import CLOCK_OFF, Tablet, held, stored
from tests.running_nursery import PreparedNursery, RunningNursery

#: cell trays A and B laid out for T-03, cells of 9 cm pots C, and a treatment that shuts bench B3
MAKE = """
import json
from datetime import date
from django.utils import timezone
from batches.models import Batch, Tray
from batches.services.laid_out import lay_out
from batches.services.treatments import TreatmentWords, record_treatment
batch, mat, now = Batch.objects.get(code="SOW-1"), Tray.objects.get(code="T-03"), timezone.now()
common = dict(batch=batch, parents=[mat], by="Greta Lunn", today=date.today())
cells = lay_out(deed="prick_out", how_many=2, container="cell tray 84", cells=84, **common)
pots = lay_out(deed="pot_up", how_many=1, container="carrier", pot_size="9 cm", **common)
words = TreatmentWords(done_at=now, product="Mildew wash", place_or_trays="B3",
                       operator="Greta Lunn", reentry_hours=72)
record_treatment(words=words, now=now)
print("MADE", json.dumps([one.code for one in (*cells, *pots)]))
"""
PICKED = (
    "select f.code, t.code, m.quantity, coalesce(m.arrived, m.quantity) from "
    "batches_plantmovement m join batches_tray f on f.id = m.tray_id join batches_tray t on "
    "t.id = m.to_tray_id where m.kind = 'out' and m.strikes_out_id is null and not exists (select "
    "1 from batches_plantmovement s where s.strikes_out_id = m.id) order by m.recorded_at, m.id"
)


@pytest.fixture(scope="module")
def yard(
    prepared_house: PreparedNursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[RunningNursery]:
    """The nursery of all these tests, served by plain http."""
    nursery = serve_by_name(prepared_house.copy_to(tmp_path_factory.mktemp("yard") / "d"), "--http")
    yield nursery
    nursery.stop()


@pytest.fixture(scope="module")
def labels(yard: RunningNursery) -> list[str]:
    """The codes that were laid out: two trays of cells, one carrier of pots."""
    said = yard.command("shell", "--no-imports", "--command", MAKE).stdout
    (line,) = [one for one in said.splitlines() if one.startswith("MADE ")]
    codes: list[str] = json.loads(line.removeprefix("MADE "))
    return codes


@pytest.fixture(scope="module")
def cookies(chromium: Any, yard: RunningNursery) -> Any:
    """What a browser keeps of its enrolment."""
    context = chromium.new_context()
    Tablet(context.new_page(), yard, address=yard.url).enrol()
    state = context.storage_state()
    context.close()
    return state


@pytest.fixture
def bench(
    request: pytest.FixtureRequest,
    chromium: Any,
    yard: RunningNursery,
    labels: list[str],
    cookies: Any,
) -> Iterator[Tablet]:
    """The tablet with Bryn Hale before it, and nothing on it."""
    with held(chromium, yard, request, storage_state=cookies) as tablet:
        tablet.page.add_init_script(CLOCK_OFF.replace("OFF", "0"))
        tablet.open()
        tablet.as_person("Bryn Hale")
        yield tablet


def open_picking(tablet: Tablet, code: str, deed: str) -> None:
    """Open a tray and the form of a deed."""
    tablet.scan(code)
    expect(tablet.page.locator("h1")).to_have_text(code)
    tablet.press("More")
    tablet.press(deed)
    expect(tablet.page.locator("h1")).to_have_text(f"{deed} {code}")


def ten_go(tablet: Tablet, code: str, *, into: str, arrived: str) -> Any:
    """Fill in that ten are pricked out and so many arrive; give the form's steppers."""
    open_picking(tablet, code, "Prick out")
    tablet.scan(into)
    steppers = tablet.page.locator(".stepper")
    steppers.nth(0).get_by_role("button", name="+10").click()
    steppers.nth(1).locator("input").fill(arrived)
    return steppers


def all_sent(tablet: Tablet, of: int) -> None:
    """Wait until so many things were answered since the tablet was empty, and none waits."""
    for _ in range(100):
        if len(tablet.kept("sent")) == of and not tablet.kept("items"):
            break
        tablet.page.wait_for_timeout(100)
    assert (len(tablet.kept("sent")), tablet.kept("items")) == (of, [])
    expect(tablet.page.locator("#strip")).to_contain_text("all sent")


def test_a_picking_is_taken_back_put_right_and_more_of_it_is_to_come(
    bench: Tablet, labels: list[str]
) -> None:
    page, nursery, (cells, _, _) = bench.page, bench.nursery, labels
    steppers = ten_go(bench, "T-03", into=cells, arrived="24")
    page.locator(".tick", has_text="More to come").click()
    in_a_fortnight = (datetime.now().astimezone() + timedelta(days=14)).date().isoformat()
    expect(page.locator("input[type=date]")).to_have_value(in_a_fortnight)
    page.get_by_role("button", name="Log: 10 pricked out").click()
    expect(page.locator("#undo")).to_contain_text("10 patches pricked out into 1 tray")
    expect(page.locator("#marks")).not_to_contain_text("not yet sent")
    all_sent(bench, 1)
    assert stored(nursery, PICKED) == [("T-03", cells, 10, 24)]
    back = "select come_back_on from batches_tray where code = 'T-03'"
    assert stored(nursery, back) == [(in_a_fortnight,)]
    bench.press("Undo")
    expect(page.locator("#undo")).to_contain_text("Undone: T-03: 10 patches")
    all_sent(bench, 2)
    assert stored(nursery, PICKED) == []
    assert stored(nursery, back) == [(None,)]
    bench.settle()
    open_picking(bench, "T-03", "Prick out")
    expect(page.locator(".filled")).to_contain_text(cells)
    expect(steppers.nth(0).locator("input")).to_have_value("10")
    steppers.nth(1).locator("input").fill("20")
    page.locator("input[type=date]").fill("2030-01-31")
    page.get_by_role("button", name="Log: 10 pricked out").click()
    all_sent(bench, 3)
    assert stored(nursery, PICKED) == [("T-03", cells, 10, 20)]
    assert stored(nursery, back) == [("2030-01-31",)]
    stands = "select alive, ended_on from batches_tray where code = ?"
    assert stored(nursery, stands, cells) == [(20, None)]
    page.locator("#strip").click()
    expect(page.locator(".waiting-row")).to_have_count(3)
    expect(page.locator(".tag", has_text="withdrawn")).to_have_count(1)
    expect(page.locator("#strip")).not_to_contain_text("look")


def test_plants_are_potted_up_into_a_laid_out_carrier_and_one_without_a_label(
    bench: Tablet, labels: list[str]
) -> None:
    page, nursery, (_, cells, carrier) = bench.page, bench.nursery, labels
    steppers = ten_go(bench, "T-04", into=cells, arrived="40")
    page.get_by_role("button", name="Log: 10 pricked out").click()
    all_sent(bench, 1)
    page.locator("#strip").click()
    bench.press("Fetch the list anew")
    bench.settle()
    open_picking(bench, cells, "Pot up")
    expect(page.locator("main")).to_contain_text("The stock book says 40 plants")
    bench.scan(carrier)
    bench.press("A tray without a label")
    steppers.nth(0).locator("input").fill("30")
    steppers.nth(1).locator("input").fill("18")
    steppers.nth(2).locator("input").fill("12")
    page.locator("#pot-size").fill("")
    expect(page.get_by_role("button", name="Log: 30 potted up")).to_be_disabled()
    page.locator("#pot-size").fill("7 cm")
    page.get_by_role("button", name="Log: 30 potted up").click()
    expect(page.locator("#undo")).to_contain_text("30 plants potted up into 2 trays")
    all_sent(bench, 2)
    pots = "select alive, pot_size, unit from batches_tray where pot_size <> '' order by alive"
    assert stored(nursery, pots) == [(12, "7 cm", "pots"), (18, "9 cm", "pots")]
    assert stored(nursery, "select alive from batches_tray where code = ?", cells) == [(10,)]
    assert bench.kept("sent")[-1]["state"] == "created"


def test_a_tray_behind_a_shut_door_says_until_when_not_to_go_in(bench: Tablet) -> None:
    page, nursery = bench.page, bench.nursery
    ((done_at,),) = stored(nursery, "select done_at from batches_treatment")
    opens = datetime.fromisoformat(f"{done_at}+00:00").astimezone() + timedelta(hours=72)
    until = f"{opens:%a} {opens.day} {opens:%b %Y %H:%M}"
    expect(page.locator("main")).to_contain_text(
        f"B3 is shut until {until}: treated with Mildew wash. Its trays are left out."
    )
    bench.scan("U-01")
    expect(page.locator("h1")).to_have_text("U-01")
    warning = page.locator("#tray-card .warning")
    expect(warning).to_have_text(
        f"Shut until {until}: treated with Mildew wash. Do not go in; the label and your local "
        "rules decide."
    )
    expect(warning).to_have_attribute("role", "alert")
    bench.scan("T-09")
    expect(page.locator("h1")).to_have_text("T-09")
    expect(warning).to_have_count(0)


def test_the_name_goes_at_the_days_end_and_the_form_stays(bench: Tablet) -> None:
    """Ten minutes to midnight, then ten minutes past: far less than the idle hours."""
    page = bench.page
    here = datetime.fromisoformat(
        page.evaluate("new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString()")
    )
    late = here.replace(hour=23, minute=50, second=0)
    page.evaluate("(off) => { window.clockOff = off; }", (late - here).total_seconds() * 1000)
    page.locator("#who").click()
    bench.as_person("Bryn Hale")
    bench.scan("T-11")
    page.locator(".tick", has_text=re.compile("^mould$")).click()
    expect(page.locator("#who")).to_contain_text("Bryn Hale")
    page.evaluate("() => { window.clockOff += 20 * 60000; }")
    bench.press("Save the look")
    expect(page.locator("h1")).to_have_text("Who is at the bench?")
    expect(page.locator("#who")).to_contain_text("Who is here?")
    assert bench.kept("items") == []
    bench.as_person("Greta Lunn")
    expect(page.locator("h1")).to_have_text("T-11 is logged")
    all_sent(bench, 1)
    look = "select c.by, c.signs from batches_traycheck c join batches_tray t on t.id = c.tray_id "
    look += "where t.code = 'T-11' and c.source = 'tablet'"
    assert stored(bench.nursery, look) == [("Greta Lunn", "mould")]


def test_what_a_tablet_saved_is_taken_in_by_a_manager_and_sent_later_is_once(
    request: pytest.FixtureRequest, chromium: Any, bench: Tablet, tmp_path: Path
) -> None:
    page, nursery = bench.page, bench.nursery
    page.route("**/sync/**", lambda route: route.abort())
    for code in ("T-12", "T-13"):
        bench.scan(code)
        bench.press("Looked, nothing new")
        expect(page.locator("h1")).to_have_text(f"{code} is logged")
        bench.settle()
    page.locator("#strip").click()
    with page.expect_download() as download:
        bench.press("Save what waits to a file")
    download.value.save_as(tmp_path / "waiting.json")
    with watched_page(chromium, nursery.url, request) as office:
        office.goto(nursery.link_for("manager"))
        office.get_by_role("button", name="Sign in").click()
        office.wait_for_load_state()
        office.goto("/tablets/")
        office.locator("input[type=file]").set_input_files(tmp_path / "waiting.json")
        office.get_by_role("button", name="Take them in").click()
        expect(office.locator("h1")).to_have_text("Taken from the file")
        expect(office.locator("main")).to_contain_text("2 stored")
    looks = "select t.code, c.by from batches_traycheck c join batches_tray t on t.id = c.tray_id "
    looks += "where t.code in ('T-12', 'T-13') and c.source = 'tablet' order by t.code"
    assert stored(nursery, looks) == [("T-12", "Bryn Hale"), ("T-13", "Bryn Hale")]
    page.unroute("**/sync/**")
    bench.press("Send now")
    all_sent(bench, 2)
    assert {one["state"] for one in bench.kept("sent")} == {"duplicate"}
    assert len(stored(nursery, looks)) == 2


def test_a_photo_that_always_meets_a_fault_holds_up_no_other(bench: Tablet, tmp_path: Path) -> None:
    page, nursery = bench.page, bench.nursery
    Image.effect_noise((320, 240), 60).convert("RGB").save(tmp_path / "tray.jpg")
    page.route("**/sync/**", lambda route: route.abort())
    for code in ("T-14", "T-15"):
        bench.scan(code)
        page.locator("#photo-file").set_input_files(tmp_path / "tray.jpg")
        expect(page.locator("main")).to_contain_text("Photo: 1")
        bench.press("Save the look")
        expect(page.locator("h1")).to_have_text(f"{code} is logged")
        bench.settle()
    first = next(one["id"] for one in bench.kept("items") if one["item"]["tray"] == "T-14")
    page.unroute("**/sync/**")
    broken = re.compile(f"/sync/photos/.*check={first}")
    page.route(broken, lambda route: route.fulfill(status=500, body="<h1>Something</h1>"))
    page.locator("#strip").click()
    bench.press("Send now")
    expect(page.locator("#strip")).to_have_text("1 needs a look")
    expect(page.locator("main")).to_contain_text("It is kept here and tried again at")
    shown = "select t.code from batches_checkphoto p join batches_traycheck c on c.id = "
    shown += "p.check_row_id join batches_tray t on t.id = c.tray_id order by t.code"
    assert stored(nursery, shown) == [("T-15",)]
    page.unroute(broken)
    bench.settle()
    bench.press("Send now")
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert stored(nursery, shown) == [("T-14",), ("T-15",)]
