"""Do the prints on paper hold what they should, and nothing from disk or a network?"""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.urls import reverse

from batches.models import PlannedSowing, Treatment
from batches.services.own_settings import set_own
from tests.factories import (
    NOW,
    TODAY,
    BenchFactory,
    ParentageFactory,
    PlantMovementFactory,
    SporeLotFactory,
    TaxonFactory,
    TrayFactory,
)
from tests.labels.paper import PRINTER, pages, read_codes, run, unpacked, words
from tests.views.pages import page

pytestmark = [PRINTER, pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

HOSTILE = '<img src="file:///etc/hostname"><link rel="attachment" href="file:///etc/hostname">'


@pytest.fixture
def printed(hand, tmp_path):
    """Open a print as the hand and keep it as a file."""

    def save(name: str, *args: str, client=hand, **query: str) -> Path:
        answer = client.get(reverse(f"batches:{name}", args=args), query)
        assert answer["Content-Type"] == "application/pdf", answer
        file: Path = tmp_path / f"{name}.pdf"
        file.write_bytes(answer.content)
        return file

    return save


def page_count(file: Path) -> int:
    found = re.search(r"Pages: +(\d+)", run("pdfinfo", file))
    assert found is not None
    return int(found[1])


def test_the_morning_list_holds_the_lines_bench_by_bench(printed, hand):
    bench = BenchFactory()
    late = TrayFactory(
        bench=bench, look_due_on=TODAY - timedelta(days=3), due_on=TODAY - timedelta(days=3)
    )
    TrayFactory(look_due_on=TODAY + timedelta(days=3), due_on=TODAY + timedelta(days=3))
    set_own(name="nursery_name", value="Hollowmere Ferns")
    file = printed("morning-list")
    text = words(file)
    assert "1 look due" in text
    assert late.code in text
    assert f"Bench {bench.code}" in text
    assert "3 d late" in text
    assert "Hollowmere Ferns, printed" in text
    assert page_count(file) == 1
    assert reverse("batches:morning-list") in page(hand, "today")


def test_a_list_too_long_to_walk_by_is_cut_and_says_so(printed, hand, monkeypatch):
    monkeypatch.setattr("batches.views.prints.MOST_LINES", 2)
    for days in (3, 9, 5):
        TrayFactory(
            code=f"DUE-{days}",
            look_due_on=TODAY - timedelta(days=days),
            due_on=TODAY - timedelta(days=days),
        )
    text = words(printed("morning-list"))
    assert "3 looks due" in text
    assert "the 2 latest; the rest stands on Today" in text
    assert "DUE-9" in text
    assert "DUE-3" not in text


def test_a_round_of_more_trays_than_a_print_bears_is_asked_for_bench_by_bench(
    printed, hand, monkeypatch
):
    monkeypatch.setattr("batches.views.prints.MOST_IN_A_ROUND", 1)
    bench = BenchFactory()
    TrayFactory(bench=bench)
    printed("round-sheet")
    TrayFactory(bench=BenchFactory())
    answer = hand.get(reverse("batches:round-sheet"), follow=True)
    assert "too many for one print" in answer.content.decode()
    printed("round-sheet", bench=bench.code)


def test_the_round_sheet_has_a_page_a_bench_in_walking_order_and_codes_that_read(printed, hand):
    set_own(name="label_address", value="http://127.0.0.1:8000")
    second, first = BenchFactory(walk_order=20), BenchFactory(walk_order=10)
    isolated = TrayFactory(bench=first, isolated=True, code="A-1")
    clean = TrayFactory(bench=first, code="B-1", last_signs="mould", last_look_on=TODAY)
    other = TrayFactory(bench=second, code="A-0")
    file = printed("round-sheet")
    assert page_count(file) == 2
    text = words(file)
    assert text.index(clean.code) < text.index(isolated.code) < text.index(other.code)
    assert "mould" in text
    found = {code for sheet in pages(file, dpi=300) for code in read_codes(sheet)}
    assert {code.rpartition("/")[2] for code in found} == {"A-0", "A-1", "B-1"}
    assert page_count(printed("round-sheet", bench=second.code)) == 1
    assert f"{reverse('batches:round-sheet')}?bench={first.code}" in page(hand, "bench", first.code)
    assert reverse("batches:round-sheet") in page(hand, "bench-map")


def test_the_batch_card_lists_every_tray(printed, hand):
    first = TrayFactory()
    others = [TrayFactory(batch=first.batch) for _ in range(60)]
    file = printed("batch-card", first.batch.code)
    text = words(file)
    assert all(tray.code in text for tray in (first, *others))
    assert first.batch.spore_lot.code in text
    assert page_count(file) == 2
    assert reverse("batches:batch-card", args=[first.batch.code]) in page(
        hand, "batch", first.batch.code
    )
    assert hand.get(reverse("batches:batch-card", args=["NOTHING"])).status_code == 404


def test_the_trail_has_both_ways_and_what_was_counted(printed, hand):
    parent = TrayFactory(counted=300)
    child = TrayFactory(batch=parent.batch, carrier=True)
    ParentageFactory(parent=parent, child=child)
    PlantMovementFactory(tray=parent, kind="out", quantity=300, arrived=100, to_tray=child)
    text = words(printed("trace-print", parent.code))
    assert "300 plants" in text
    assert "100 pots" in text
    assert child.code in text
    assert parent.batch.code in text
    assert reverse("batches:trace-print", args=[parent.code]) in page(hand, "trace", parent.code)
    assert hand.get(reverse("batches:trace-print", args=["NOTHING"])).status_code == 302


def test_the_sowing_list_stands_by_iso_week_with_the_lots_to_take(printed, hand):
    fern = TaxonFactory()
    late = SporeLotFactory(taxon=fern, sow_by=TODAY + timedelta(days=90))
    soon = SporeLotFactory(taxon=fern, sow_by=TODAY + timedelta(days=9))
    # ISO 8601 weeks: 4 January 2027 is the Monday of 2027-W01, the day before is of 2026-W53.
    for day, trays in ((date(2027, 1, 3), 4), (date(2027, 1, 4), 6), (date(2027, 1, 9), 2)):
        PlannedSowing.objects.create(
            taxon=fern, trays=trays, sow_on=day, planned_by="Greta Lunn", planned_at=NOW,
            why="400 pots",
        )  # fmt: skip
    PlannedSowing.objects.create(
        taxon=TaxonFactory(), trays=99, sow_on=TODAY, planned_by="x", planned_at=NOW,
        dropped_on=TODAY,
    )  # fmt: skip
    text = words(printed("sowing-list"))
    assert "2026-W53, from 28 Dec 2026: 4 trays" in text
    assert "2027-W01, from 4 Jan 2027: 8 trays" in text
    assert text.index(soon.code) < text.index(late.code)
    assert ": 99 trays" not in text
    assert reverse("batches:sowing-list") in page(hand, "sow")


def test_the_register_of_treatments_is_printed_of_the_days_asked_for(printed, hand):
    for days, product in ((1, "Nematodes"), (40, "Soft soap")):
        Treatment.objects.create(
            done_at=NOW - timedelta(days=days), product=product, place_or_trays="B1",
            operator="Greta Lunn", recorded_at=NOW,
        )  # fmt: skip
    assert "Soft soap" in words(printed("treatments-print"))
    since = (TODAY - timedelta(days=7)).isoformat()
    text = words(printed("treatments-print", **{"from": since}))
    assert "Nematodes" in text
    assert "Soft soap" not in text
    assert reverse("batches:treatments-print") in page(hand, "treatments")


def test_nothing_on_disk_or_on_a_network_gets_into_a_print(printed, office):
    """Every text that people write is tried as markup that would fetch a file."""
    secret = Path("/etc/hostname").read_text().strip() if Path("/etc/hostname").exists() else ""
    one = TrayFactory(
        bench=BenchFactory(), container=HOSTILE[:60], counted=5,
        look_due_on=TODAY, due_on=TODAY,
    )  # fmt: skip
    set_own(name="nursery_name", value=HOSTILE)
    one.batch.taxon.common_name = HOSTILE[:80]
    one.batch.taxon.save()
    one.batch.notes = HOSTILE
    one.batch.save()
    Treatment.objects.create(
        done_at=NOW, product=HOSTILE[:120], place_or_trays="B1", operator="x", recorded_at=NOW
    )
    for name, args in (
        ("morning-list", ()),
        ("round-sheet", ()),
        ("batch-card", (one.batch.code,)),
        ("trace-print", (one.code,)),
        ("treatments-print", ()),
        ("availability-print", ()),
        ("dispatches-print", ()),
    ):
        file = printed(name, *args, client=office)
        inside = unpacked(file.read_bytes())
        assert b"/EmbeddedFile" not in inside, name
        assert b"/Subtype /Image" not in inside, name
        assert b"/URI" not in inside, name
        if len(secret) > 6:
            assert secret not in words(file), name
    assert "<img" in words(printed("batch-card", one.batch.code))
