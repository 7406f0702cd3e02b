"""Are labels made from the page, and does that make a tray labelled?"""

from __future__ import annotations

from uuid import UUID

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.labels.print_runs import PrintRun, run_of, start_run
from batches.labels.stocks import STOCKS
from batches.models import LabelPrint
from tests.factories import (
    TODAY,
    BenchFactory,
    LaidOutTrayFactory,
    SourceFactory,
    SporeLotFactory,
    TrayFactory,
)
from tests.labels.examples import tray
from tests.labels.paper import PRINTER, words
from tests.views.pages import page

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]


def wanted(codes, **more):
    return {"codes": " ".join(codes), "kind": "tray", "stock": "a4-24", "copies": 1,
            "start_at": 1} | more  # fmt: skip


def test_a_batchs_trays_stand_in_the_form(hand):
    one = TrayFactory()
    waiting = LaidOutTrayFactory(batch=one.batch)
    page = hand.get(reverse("batches:labels"), {"batch": one.batch.code}).content.decode()
    assert one.code in page
    assert waiting.code in page


def test_a_pdf_comes_back_and_trays_are_labelled_from_today_on(hand):
    one = TrayFactory(label_printed_on=None)
    waiting = LaidOutTrayFactory(batch=one.batch)
    answer = hand.post(reverse("batches:labels"), wanted([one.code, waiting.code]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")
    one.refresh_from_db()
    waiting.refresh_from_db()
    assert (one.label_printed_on, waiting.label_printed_on) == (TODAY, TODAY)
    (log,) = LabelPrint.objects.all()
    assert (log.labels, log.by, log.stock) == (2, "Bryn Hale", "a4-24")


def test_pot_and_packet_labels(hand):
    one, lot = TrayFactory(carrier=True, label_printed_on=None), SporeLotFactory()
    for kind, code in (("pot", one.code), ("lot", lot.code.lower())):
        answer = hand.post(reverse("batches:labels"), wanted([code], kind=kind, copies=3))
        assert answer.content.startswith(b"%PDF")
    one.refresh_from_db()
    assert one.label_printed_on is None


def test_the_page_to_print_needs_no_pdf(hand):
    one = TrayFactory()
    answer = hand.post(reverse("batches:labels"), wanted([one.code], page="yes"))
    assert one.code in answer.content.decode()
    assert "sown" in answer.content.decode()


@pytest.mark.parametrize(
    ("codes", "more", "words"),
    [
        (["NOTHING"], {}, "no tray&#x27;s code"),
        ([], {}, "required"),
        (["NOTHING"], {"kind": "lot"}, "no lot&#x27;s code"),
        (["T"], {"copies": 0}, "greater than or equal to 1"),
    ],
)
def test_what_cannot_be_printed_is_told_in_words(hand, codes, more, words):
    answer = hand.post(reverse("batches:labels"), wanted(codes, **more))
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_a_label_to_start_at_that_the_sheet_has_not(hand):
    answer = hand.post(reverse("batches:labels"), wanted([TrayFactory().code], start_at=25))
    assert answer.status_code == 422
    assert "no label 25" in answer.content.decode()


def test_benches_and_stock_plants_get_labels_too(hand, tmp_path):
    bench, plant = BenchFactory(), SourceFactory(label_printed_on=None, locality="Ashlinn Water")
    file = tmp_path / "labels.pdf"
    for kind, code, more in (("bench", bench.code, str(bench.house)),
                             ("source", plant.code, "Ashlinn Water")):  # fmt: skip
        file.write_bytes(hand.post(reverse("batches:labels"), wanted([code], kind=kind)).content)
        assert code in words(file)
        assert more in words(file)
    plant.refresh_from_db()
    assert plant.label_printed_on == TODAY


def test_the_first_sheet_is_drawn_before_anything_is_printed(hand):
    one = TrayFactory(label_printed_on=None)
    text = hand.post(
        reverse("batches:labels"), wanted([one.code], do="look", copies=30, start_at=20)
    ).content.decode()
    assert "30 labels on 3 sheets" in text
    # Five copies from label 20 to 24 on the first sheet, drawn once.
    assert text.count('<use href="#label-0"') == 5
    assert ' style="' not in text
    assert not LabelPrint.objects.exists()
    one.refresh_from_db()
    assert one.label_printed_on is None


def test_a_label_printed_before_is_pointed_out_and_stands_in_the_log(hand):
    one = TrayFactory(label_printed_on=TODAY)
    text = hand.post(reverse("batches:labels"), wanted([one.code], do="look")).content.decode()
    assert "1 of these has a label already" in text
    for _ in range(2):
        hand.post(reverse("batches:labels"), wanted([one.code]))
    hand.post(reverse("batches:labels"), wanted([TrayFactory(code=f"{one.code}-2").code]))
    assert "2 prints" in page(hand, "labels-log", code=one.code)
    assert "3 prints" in page(hand, "labels-log")
    again = LabelPrint.objects.last()
    assert again is not None
    assert f">\n{one.code}</textarea>" in page(hand, "labels", again=str(again.pk))


def test_the_first_free_label_is_chosen_on_a_drawing_of_the_sheet(hand):
    for stock, drawn in (("a4-24", 24), ("a4-65", 65), ("single-100x25", 0)):
        text = page(hand, "labels-sheet", stock=stock)
        assert text.count('type="radio" name="start_at"') == drawn
    text = hand.post(
        reverse("batches:labels"), wanted(["T"], stock="a4-65", do="draw", start_at=60)
    ).content.decode()
    assert 'value="60" checked' in text


def test_what_does_not_fit_is_told_before_the_labels_are_opened(hand):
    one = TrayFactory(carrier=True)
    one.batch.taxon.common_name = "🌿 shy fern"
    one.batch.taxon.save()
    answer = hand.post(reverse("batches:labels"), wanted([one.code], kind="pot"), follow=True)
    text = answer.content.decode()
    assert "Not everything could be printed as it is written" in text
    assert "common name" in text
    assert not LabelPrint.objects.exists()
    pdf = hand.get(f"{answer.redirect_chain[-1][0]}pdf/")
    assert pdf.content.startswith(b"%PDF")
    hand.get(f"{answer.redirect_chain[-1][0]}pdf/")
    assert LabelPrint.objects.count() == 1


def long_run(labels: int) -> PrintRun:
    rows = [tray(number) for number in range(labels)]
    return start_run(
        rows, STOCKS["a4-24"], codes=[row.code for row in rows], kind="tray", by="Bryn Hale"
    )


@PRINTER
def test_a_long_print_says_how_far_it_is_and_comes_to_its_end(hand, monkeypatch):
    monkeypatch.setattr("batches.views.labels._PATIENCE", (0.0, 0.0))
    codes = [TrayFactory().code for _ in range(3)]
    answer = hand.post(reverse("batches:labels"), wanted(codes, copies=400))
    assert answer.status_code == 302
    run_id = answer["Location"].rstrip("/").split("/")[-1]
    waiting = page(hand, "labels-run", run_id)
    assert "of 1200 labels" in waiting or "1200 labels on 50 sheets" in waiting
    run = run_of(UUID(run_id))
    assert run is not None
    assert run.wait(60)
    assert "1200 labels on 50 sheets" in page(hand, "labels-run-state", run_id)
    assert not LabelPrint.objects.exists()
    assert hand.get(reverse("batches:labels-run-pdf", args=[run_id])).content[:4] == b"%PDF"
    assert LabelPrint.objects.get().labels == 1200


@PRINTER
def test_a_long_print_can_be_stopped_and_then_nothing_was_printed(hand):
    run = long_run(6_000)
    text = hand.post(reverse("batches:labels-run", args=[run.id]), follow=True).content.decode()
    assert run.was_stopped
    assert "The print was stopped. Nothing was printed." in text
    assert not run.output.exists()
    assert not LabelPrint.objects.exists()


def test_a_print_that_is_forgotten_is_told(hand):
    gone = "00000000-0000-0000-0000-000000000000"
    for name in ("labels-run", "labels-run-pdf"):
        text = hand.get(reverse(f"batches:{name}", args=[gone]), follow=True).content.decode()
        assert "not kept any more" in text
    assert "not kept any more" in page(hand, "labels-run-state", gone)


def test_the_page_asks_the_database_as_often_for_thirty_trays_as_for_three(hand):
    def queries(codes):
        with CaptureQueriesContext(connection) as seen:
            hand.post(reverse("batches:labels"), wanted(codes, do="look"))
        return len(seen)

    codes = [TrayFactory().code for _ in range(30)]
    assert queries(codes[:3]) == queries(codes)
