"""Can all be said of a tray with wet hands, by whoever stands there, and taken back again?"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import expect

from tests.browser.tablet import Tablet, held, stored
from tests.running_nursery import RunningNursery

LOOK = (
    "select t.code, c.by, c.stage_seen, c.signs, c.count, c.about, c.opened, c.note "
    "from batches_traycheck c join batches_tray t on t.id = c.tray_id "
    "where c.source = 'tablet' and c.strikes_out_id is null order by c.device_seq"
)


def open_tray(tablet: Tablet, code: str) -> None:
    """Open a tray by its label."""
    tablet.scan(code)
    expect(tablet.page.locator("h1")).to_have_text(code)


def tick(tablet: Tablet, words: str) -> None:
    """Tick what a tile says."""
    tablet.page.locator(".tick", has_text=re.compile(rf"^{words}$")).click()


def all_sent(tablet: Tablet) -> None:
    """Wait until what was logged was answered and all is sent."""
    answered(tablet)
    expect(tablet.page.locator("#strip")).to_contain_text("all sent")


def answered(tablet: Tablet) -> None:
    """Wait until what was logged was answered; a photo may still wait."""
    expect(tablet.page.locator("#undo")).to_contain_text("Logged")
    for _ in range(50):
        if not tablet.kept("items"):
            break
        tablet.page.wait_for_timeout(200)


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A photo as a camera makes it, larger than anything is kept."""
    path = tmp_path / "tray.jpg"
    Image.effect_noise((2400, 1800), 60).convert("RGB").save(path, quality=92)
    return path


def test_a_sign_a_count_and_a_photo_take_at_most_seven_taps(tablet: Tablet, picture: Path) -> None:
    page = tablet.page
    taps = tablet.taps
    page.locator(".tray-row", has_text="T-03").click()
    tick(tablet, "mould")
    tablet.press("Count")
    tablet.press("+10")
    with page.expect_file_chooser() as chosen:
        tablet.press("Photo")
    # The camera itself takes one press of its shutter and one to keep the picture.
    shutter = 1
    chosen.value.set_files(picture)
    expect(page.get_by_role("button", name="Photo: 1", exact=True)).to_be_visible()
    tablet.press("Save the look")
    assert tablet.taps - taps + shutter <= 7
    expect(page.locator("h1")).to_have_text("T-03 is logged")
    all_sent(tablet)
    assert stored(tablet.nursery, LOOK) == [("T-03", "Bryn Hale", "", "mould", 10, 0, 0, "")]
    (photo,) = tablet.kept("photos")
    assert (photo["type"], photo["state"]) == ("image/jpeg", "sent")
    on_record = "select p.id, t.code from batches_checkphoto p join batches_traycheck c "
    on_record += "on c.id = p.check_row_id join batches_tray t on t.id = c.tray_id"
    assert [code for _, code in stored(tablet.nursery, on_record)] == ["T-03"]
    size = page.evaluate(
        """() => new Promise((done) => {
      const request = indexedDB.open("frondbook-bench");
      request.onsuccess = () => {
        const all = request.result.transaction("bytes").objectStore("bytes").getAll();
        all.onsuccess = async () => {
          const picture = await createImageBitmap(new Blob([all.result[0]]));
          request.result.close();
          done([picture.width, picture.height]);
        };
      };
    })"""
    )
    assert size == [1600, 1200]


def test_a_photo_waits_with_its_look_and_follows_it(tablet: Tablet, picture: Path) -> None:
    """A photo that the server cannot place yet is kept; one that is no picture needs a look."""
    page = tablet.page
    page.route("**/sync/**", lambda route: route.abort())
    open_tray(tablet, "T-03")
    page.locator("#photo-file").set_input_files(picture)
    tablet.press("Save the look")
    expect(page.locator("#strip")).to_contain_text("1 waiting, 1 photo")
    tablet.reload()
    expect(page.locator("#strip")).to_contain_text("1 waiting, 1 photo")
    page.unroute("**/sync/**")
    later = json.dumps({"error": "The look of this photo has not arrived here."})
    page.route("**/sync/photos/**", lambda route: route.fulfill(
        status=404, content_type="application/json", body=later))  # fmt: skip
    page.locator("#strip").click()
    tablet.press("Send now")
    expect(page.locator("#strip")).to_contain_text("1 photo waiting")
    assert tablet.kept("items") == []
    page.unroute("**/sync/photos/**")
    tablet.settle()
    tablet.press("Send now")
    expect(page.locator("#strip")).to_contain_text("all sent")
    assert stored(tablet.nursery, "select count(*) from batches_checkphoto") == [(1,)]


def test_a_round_is_walked_by_the_keyboard_alone(tablet: Tablet) -> None:
    page = tablet.page
    taps = tablet.taps
    for key in ("T", "-", "0", "5", "Enter"):
        page.keyboard.press(key)
    expect(page.locator("h1")).to_have_text("T-05")
    go_to(page, "mould")
    page.keyboard.press("Space")
    expect(page.locator(".tick", has_text="mould")).to_have_attribute("aria-pressed", "true")
    assert page.evaluate("document.activeElement.textContent") == "mould"
    go_to(page, "Save the look")
    page.keyboard.press("Enter")
    expect(page.locator("h1")).to_have_text("T-05 is logged")
    go_to(page, "Undo")
    page.keyboard.press("Enter")
    expect(page.locator("#save")).to_have_text("Looked, nothing new")
    assert tablet.taps == taps


def go_to(page: Any, words: str) -> None:
    """Press Tab until the focus is on what carries these words."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == words:
            return
    raise AssertionError(f"no Tab leads to {words}")


def test_a_badge_under_the_scanner_proves_who_it_is(tablet: Tablet) -> None:
    make = (
        "from batches.models import Person; from batches.services import bench_people; "
        "print(bench_people.make_badge(person=Person.objects.get(name='Greta Lunn')))"
    )
    shell = tablet.nursery.command("shell", "--no-imports", "--command", make)
    badge = shell.stdout.strip().splitlines()[-1]
    open_tray(tablet, "T-05")
    tick(tablet, "mould")
    tablet.scan(badge)
    expect(tablet.page.locator("#who")).to_contain_text("Greta Lunn")
    tablet.scan(badge[:-2] + "22")
    expect(tablet.page.locator("#told")).to_contain_text("void, or none of this nursery's")
    tablet.press("Save the look")
    all_sent(tablet)
    proven = "select by, by_verified, signs from batches_traycheck where source = 'tablet'"
    assert stored(tablet.nursery, proven) == [("Greta Lunn", 1, "mould")]


def test_a_file_that_is_no_picture_is_said_and_the_form_kept(
    tablet: Tablet, tmp_path: Path
) -> None:
    (tmp_path / "note.jpg").write_text("<svg onload=alert(1)>", encoding="utf-8")
    open_tray(tablet, "T-03")
    tick(tablet, "mould")
    tablet.page.locator("#photo-file").set_input_files(tmp_path / "note.jpg")
    expect(tablet.page.locator("#told")).to_contain_text("no picture that the tablet can read")
    expect(tablet.page.locator(".tick", has_text="mould")).to_have_attribute("aria-pressed", "true")
    assert tablet.kept("photos") == []


def test_a_nearly_full_store_stops_photos_and_never_looks(tablet: Tablet, picture: Path) -> None:
    page = tablet.page
    page.evaluate("""() => Object.defineProperty(navigator, "storage", {
      configurable: true, value: { estimate: async () => ({ usage: 81, quota: 100 }) } })""")
    open_tray(tablet, "T-03")
    page.locator("#photo-file").set_input_files(picture)
    expect(page.locator("#told")).to_contain_text("takes no more photos")
    tablet.press("Looked, nothing new")
    all_sent(tablet)


def test_plants_are_pricked_out_at_the_bench_into_a_laid_out_tray(tablet: Tablet) -> None:
    """The mat was never counted, so what left is all that is known of it."""
    nursery, page = tablet.nursery, tablet.page
    lay_out = (
        "from datetime import date; from batches.models import Batch, Tray; "
        "from batches.services.laid_out import lay_out; "
        "b = Batch.objects.get(code='SOW-1'); "
        "made = lay_out(batch=b, parents=[Tray.objects.get(code='T-03')], deed='prick_out', "
        "how_many=1, container='cell tray 84', cells=84, by='Greta Lunn', today=date.today()); "
        "print(made[0].code)"
    )
    shell = nursery.command("shell", "--no-imports", "--command", lay_out)
    code = shell.stdout.strip().splitlines()[-1]
    open_tray(tablet, "T-03")
    tablet.press("More")
    tablet.press("Prick out")
    tablet.scan(f"https://old-name.example/t/{code}")
    expect(page.locator(".filled")).to_contain_text(code)
    steppers = page.locator(".stepper")
    steppers.nth(0).get_by_role("button", name="+10").click()
    steppers.nth(1).locator("input").fill("24")
    page.get_by_role("button", name=re.compile("^Log: 10")).click()
    expect(page.locator("#undo")).to_contain_text("10 patches pricked out into 1 tray")
    all_sent(tablet)
    child = "select stage, alive from batches_tray where code = ?"
    assert stored(nursery, child, code) == [("pricked_out", 24)]
    moved = "select quantity, arrived from batches_plantmovement where kind = 'out'"
    assert stored(nursery, moved) == [(10, 24)]


def test_everything_that_can_be_said_arrives(tablet: Tablet) -> None:
    page = tablet.page
    open_tray(tablet, "T-04")
    tick(tablet, "first frond")
    tick(tablet, "sciarids")
    tick(tablet, "heart shapes")
    tablet.press("Count")
    page.locator(".number").click()
    for digit in "844":
        tablet.press(digit)
        page.wait_for_timeout(150)
    tablet.press("Delete")
    tablet.press("Done")
    tick(tablet, "About, not one by one")
    tablet.press("More")
    tick(tablet, "The lid was opened")
    page.locator("#note").fill("<b>Thick</b> in the corner {{ 7*7 }}")
    tablet.press("Save the look")
    all_sent(tablet)
    (found,) = stored(tablet.nursery, LOOK)
    assert found == (
        "T-04", "Bryn Hale", "first_frond", "sciarids heart_shapes", 84, 1, 1,
        "<b>Thick</b> in the corner {{ 7*7 }}",
    )  # fmt: skip
    open_tray(tablet, "T-04")
    expect(page.locator("#tray-card")).to_contain_text("first frond")
    expect(page.locator("#tray-card")).to_contain_text("sciarids")


def test_losses_are_written_with_their_cause(tablet: Tablet) -> None:
    page = tablet.page
    open_tray(tablet, "T-04")
    tablet.press("Count")
    tablet.press("+10")
    tablet.press("Save the look")
    all_sent(tablet)
    open_tray(tablet, "T-04")
    tick(tablet, "rot")
    tablet.press("Count")
    tablet.settle()
    tablet.press("−1")
    tablet.settle()
    tablet.press("−1")
    tablet.press("Write 2 as lost")
    expect(page.locator(".panel select")).to_have_value("rot")
    tablet.press("Save the look")
    all_sent(tablet)
    losses = "select quantity, cause from batches_plantmovement where kind = 'loss'"
    assert stored(tablet.nursery, losses) == [(2, "rot")]
    assert stored(tablet.nursery, "select alive from batches_tray where code = 'T-04'") == [(8,)]
    expect(page.locator("#strip")).not_to_contain_text("look")


def test_another_person_takes_over_and_the_form_is_kept(tablet: Tablet) -> None:
    page = tablet.page
    open_tray(tablet, "T-06")
    tick(tablet, "mould")
    taps = tablet.taps
    page.locator("#who").click()
    tablet.as_person("Greta Lunn")
    assert tablet.taps - taps == 2
    expect(page.locator("#who")).to_contain_text("Greta Lunn")
    expect(page.locator(".tick", has_text="mould")).to_have_attribute("aria-pressed", "true")
    tablet.reload()
    expect(page.locator(".tray-row", has_text="T-06")).to_contain_text("begun")
    open_tray(tablet, "T-06")
    tablet.press("Save the look")
    all_sent(tablet)
    assert [look[:4] for look in stored(tablet.nursery, LOOK)] == [
        ("T-06", "Greta Lunn", "", "mould")
    ]


def test_the_name_goes_after_four_idle_hours_and_the_form_stays(tablet: Tablet) -> None:
    page = tablet.page
    open_tray(tablet, "T-06")
    tick(tablet, "mould")
    page.evaluate("""() => { const now = Date.now; Date.now = () => now() + 5 * 3600 * 1000; }""")
    tablet.press("Save the look")
    expect(page.locator("h1")).to_have_text("Who is at the bench?")
    assert tablet.kept("items") == []
    tablet.as_person("Greta Lunn")
    expect(page.locator("h1")).to_have_text("T-06 is logged")
    all_sent(tablet)
    assert [look[:4] for look in stored(tablet.nursery, LOOK)] == [
        ("T-06", "Greta Lunn", "", "mould")
    ]


def test_a_waiting_look_is_changed_and_another_withdrawn(tablet: Tablet) -> None:
    page = tablet.page
    page.route("**/sync/**", lambda route: route.abort())
    for code in ("T-07", "T-08"):
        open_tray(tablet, code)
        page.locator("#save").click()
        tablet.settle()
    open_tray(tablet, "T-07")
    expect(page.locator("#tray-card")).to_contain_text("not yet sent")
    page.locator("#strip").click()
    rows = page.locator(".waiting-row")
    expect(rows).to_have_count(2)
    rows.filter(has_text="T-08").get_by_role("button", name="Withdraw").click()
    expect(rows.filter(has_text="T-08").first).to_contain_text("withdrawn")
    rows.filter(has_text="T-07").get_by_role("button", name="Change").click()
    expect(page.locator("#save")).to_have_text("Save the change")
    tick(tablet, "dry")
    tablet.press("Save the change")
    expect(page.locator("#strip")).to_contain_text("5 waiting")
    page.unroute("**/sync/**")
    page.locator("#strip").click()
    tablet.press("Send now")
    all_sent(tablet)
    standing = "select t.code, c.signs from batches_traycheck c join batches_tray t "
    standing += "on t.id = c.tray_id where c.source = 'tablet' and c.strikes_out_id is null "
    standing += "and c.id not in (select strikes_out_id from batches_traycheck "
    standing += "where strikes_out_id is not null)"
    assert stored(tablet.nursery, standing) == [("T-07", "dry")]


def test_waiting_items_are_saved_to_a_file_that_holds_them_all(
    tablet: Tablet, tmp_path: Path
) -> None:
    page = tablet.page
    page.route("**/sync/**", lambda route: route.abort())
    open_tray(tablet, "T-07")
    page.locator("#save").click()
    page.locator("#strip").click()
    with page.expect_download() as download:
        tablet.press("Save what waits to a file")
    path = tmp_path / "waiting.json"
    download.value.save_as(path)
    held_there = json.loads(path.read_text(encoding="utf-8"))
    assert [(one["kind"], one["tray"]) for one in held_there["items"]] == [("check", "T-07")]
    assert held_there["items"] == [one["item"] for one in tablet.kept("items")]
    assert set(held_there) == {"sent_at", "generation", "clock_off_ms", "items"}
    assert len(tablet.kept("items")) == 1


def test_several_trays_are_moved_and_isolated_and_that_is_undone(tablet: Tablet) -> None:
    page, nursery = tablet.page, tablet.nursery
    tablet.press("Bench by bench")
    page.get_by_role("button", name="Look over Mist house, B1").click()
    for code in ("T-02", "T-05"):
        page.locator(".tray-tick", has_text=code).click()
    tablet.press("Isolate")
    expect(page.locator(".tray-tick", has_text="T-05")).to_contain_text("isolated")
    all_sent(tablet)
    apart = "select code from batches_tray where isolated order by code"
    assert stored(nursery, apart) == [("T-02",), ("T-05",)]
    tablet.settle()
    tablet.press("Undo")
    expect(page.locator(".tray-tick", has_text="T-05")).not_to_contain_text("isolated")
    tablet.press("Move")
    page.locator(".tile", has_text="B2").click()
    expect(page.locator("#undo")).to_contain_text("2 trays: now on Mist house, B2")
    all_sent(tablet)
    page.wait_for_timeout(300)
    assert stored(nursery, apart) == []
    moved = "select t.code from batches_tray t join batches_bench b on b.id = t.bench_id "
    moved += "where b.code = 'B2' order by t.code"
    assert stored(nursery, moved) == [("T-02",), ("T-05",)]


def test_what_cannot_be_kept_is_said_and_the_form_stays(tablet: Tablet) -> None:
    page = tablet.page
    open_tray(tablet, "T-07")
    tick(tablet, "mould")
    page.evaluate(
        """() => {
      const real = IDBDatabase.prototype.transaction;
      window.mend = () => { IDBDatabase.prototype.transaction = real; };
      IDBDatabase.prototype.transaction = function () {
        throw new DOMException("Connection to Indexed Database server lost", "UnknownError");
      };
    }"""
    )
    tablet.press("Save the look")
    expect(page.locator("#told")).to_contain_text("This tablet could not keep it")
    expect(page.locator("#told")).to_contain_text("What you entered is still here")
    expect(page.locator(".tick", has_text="mould")).to_have_attribute("aria-pressed", "true")
    page.evaluate("window.mend()")
    tablet.settle()
    tablet.press("Save the look")
    expect(page.locator("h1")).to_have_text("T-07 is logged")
    all_sent(tablet)
    assert len(stored(tablet.nursery, LOOK)) == 1


def test_a_connection_that_died_in_the_background_is_opened_anew(tablet: Tablet) -> None:
    page = tablet.page
    open_tray(tablet, "T-07")
    page.evaluate(
        """() => {
      const real = IDBDatabase.prototype.transaction;
      IDBDatabase.prototype.transaction = function () {
        IDBDatabase.prototype.transaction = real;
        throw new DOMException("Connection to Indexed Database server lost", "UnknownError");
      };
    }"""
    )
    page.locator("#save").click()
    expect(page.locator("h1")).to_have_text("T-07 is logged")
    all_sent(tablet)
    assert len(stored(tablet.nursery, LOOK)) == 1


def test_two_windows_of_one_tablet_store_nothing_twice(tablet: Tablet) -> None:
    other = tablet.page.context.new_page()
    other.goto(f"{tablet.address}/bench/#t=T-09")
    other.wait_for_selector("html[data-ready=yes]")
    expect(other.locator("h1")).to_have_text("T-09")
    tablet.page.route("**/sync/**", lambda route: route.abort())
    other.route("**/sync/**", lambda route: route.abort())
    open_tray(tablet, "T-08")
    tablet.page.locator("#save").click()
    other.locator("#save").click()
    expect(other.locator("h1")).to_have_text("T-09 is logged")
    expect(other.locator("#strip")).to_contain_text("2 waiting")
    for page in (tablet.page, other):
        page.unroute("**/sync/**")
        page.locator("#strip").click()
    for page in (tablet.page, other):
        page.get_by_role("button", name="Send now").click()
    for page in (tablet.page, other):
        expect(page.locator("#strip")).to_contain_text("all sent")
    assert [look[0] for look in stored(tablet.nursery, LOOK)] in (
        ["T-08", "T-09"], ["T-09", "T-08"],
    )  # fmt: skip


def test_a_pin_is_checked_where_the_server_answers_and_noted_where_not(
    request: pytest.FixtureRequest, chromium: Any, house: RunningNursery
) -> None:
    make = (
        "from batches.models import Person; from batches.services import bench_people; "
        "from batches.services.own_settings import set_own; "
        "p = Person.objects.get(name='Bryn Hale'); "
        "bench_people.set_pin(person=p, pin='407193'); "
        "set_own(name='bench_pin_needed', value=True)"
    )
    house.command("shell", "--no-imports", "--command", make)
    with held(chromium, house, request) as tablet:
        page = tablet.page
        tablet.enrol()
        tablet.open()
        tablet.as_person("Bryn Hale")
        expect(page.locator("h1")).to_have_text("PIN of Bryn Hale")
        page.keyboard.type("111111")
        page.keyboard.press("Enter")
        expect(page.locator(".told[role=alert]").last).to_contain_text("do not belong together")
        for digit in "407193":
            tablet.press(digit)
            page.wait_for_timeout(150)
        page.locator(".pad").get_by_role("button", name="Enter", exact=True).click()
        expect(page.locator("h1")).to_have_text("The round")
        open_tray(tablet, "T-07")
        page.locator("#save").click()
        all_sent(tablet)
        page.route("**/sync/**", lambda route: route.abort())
        page.locator("#who").click()
        tablet.as_person("Bryn Hale")
        page.keyboard.type("407193")
        page.keyboard.press("Enter")
        expect(page.locator("#told")).to_contain_text("noted as not proved")
        open_tray(tablet, "T-08")
        page.locator("#save").click()
        expect(page.locator("#strip")).to_contain_text("1 waiting")
        page.unroute("**/sync/**")
        page.locator("#strip").click()
        tablet.press("Send now")
        all_sent(tablet)
        page.wait_for_timeout(300)
    proven = "select by, by_verified from batches_traycheck where source = 'tablet' "
    proven += "order by device_seq"
    assert stored(house, proven) == [("Bryn Hale", 1), ("Bryn Hale", 0)]
