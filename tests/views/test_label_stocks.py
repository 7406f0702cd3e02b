"""Can the nursery's own label papers be written down, tried, and printed on?"""

from __future__ import annotations

import pytest
from django.urls import reverse

from batches.labels import STOCKS
from batches.labels.own_stocks import stock_called, stocks_offered
from batches.models import LabelStock
from tests.factories import TrayFactory
from tests.labels.paper import PRINTER, labels, pages, run
from tests.views.pages import page

pytestmark = [PRINTER, pytest.mark.django_db, pytest.mark.usefixtures("fixed_clock")]

MINE = {
    "title": "Yellow sheet, 4 × 10",
    "page_width": 210,
    "page_height": 297,
    "label_width": 48.5,
    "label_height": 25.4,
    "columns": 4,
    "rows": 10,
    "margin_left": 8,
    "margin_top": 21.5,
    "gap_x": 0,
    "gap_y": 0,
    "inset_x": 1.5,
    "inset_y": 1.5,
    "offset_x": -0.5,
    "offset_y": 1,
}


def store(client, **changed):
    return client.post(reverse("batches:label-stock-new"), MINE | changed)


def test_a_stock_written_down_is_offered_and_printed_on(office, hand, tmp_path):
    assert store(office).status_code == 302
    (own,) = LabelStock.objects.all()
    assert "Yellow sheet" in page(office, "label-stocks")
    assert "Yellow sheet" in page(hand, "labels")
    sent = {"codes": TrayFactory().code, "kind": "tray", "stock": own.name, "copies": 40,
            "start_at": 1}  # fmt: skip
    answer = hand.post(reverse("batches:labels"), sent)
    file = tmp_path / "own.pdf"
    file.write_bytes(answer.content)
    (sheet,) = pages(file, dpi=100)
    inked = [piece.getextrema()[0] == 0 for piece in labels(sheet, stock_called(own.name), dpi=100)]
    assert inked == [True] * 40


def test_the_shift_moves_the_print(office, tmp_path):
    """0 and 5 mm right: what is drawn stands 5 mm further right on the sheet."""
    left = {}
    for shift in (0, 5):
        store(office, title=f"Shift {shift}", offset_x=shift, columns=1, rows=1)
        name = LabelStock.objects.get(title=f"Shift {shift}").name
        file = tmp_path / f"{shift}.pdf"
        file.write_bytes(office.get(reverse("batches:label-stock-test", args=[name])).content)
        (sheet,) = pages(file, dpi=254)
        box = sheet.point(lambda dot: 255 - dot).getbbox()
        assert box is not None
        left[shift] = box[0]
    assert abs(left[5] - left[0] - 50) <= 1


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"columns": 5}, "its columns need"),
        ({"rows": 12}, "its rows need"),
        ({"label_width": 4}, "at least 10 mm"),
        ({"label_width": ""}, "required"),
        ({"offset_x": 40}, "more than 20 mm"),
        ({"offset_x": -40}, "greater than or equal to -20"),
        ({"inset_x": 30}, "nothing to print on"),
    ],
)
def test_measures_that_cannot_be_true_are_told(office, changed, words):
    answer = store(office, **changed)
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not LabelStock.objects.exists()


def test_single_labels_are_their_own_page(office):
    store(office, title="Roll", single="on", label_width=80, label_height=30, page_width="")
    stock = stock_called("roll")
    assert (stock.page_width, stock.page_height, stock.labels_per_page) == (80, 30, 1)
    assert (stock.margin_left, stock.margin_top) == (0, 0)


def test_a_shipped_stock_is_the_start_of_an_own_one(office):
    text = office.get(reverse("batches:label-stock-new"), {"from": "a4-65"}).content.decode()
    assert 'value="38.1"' in text


def test_measures_are_put_right_and_the_name_stays(office):
    store(office)
    own = LabelStock.objects.get()
    office.post(reverse("batches:label-stock-edit", args=[own.name]), MINE | {"offset_y": -2})
    own.refresh_from_db()
    assert own.offset_y == -2
    assert LabelStock.objects.count() == 1


def test_a_stock_out_of_use_is_offered_no_more_and_may_come_back(office):
    store(office)
    own = LabelStock.objects.get()
    use = reverse("batches:label-stock-use", args=[own.name])
    office.post(use, {"deed": "stop"})
    assert own.name not in stocks_offered()
    assert own.title in page(office, "label-stocks")
    office.post(use, {"deed": "use"})
    assert own.name in stocks_offered()


def test_two_stocks_of_one_title_get_names_of_their_own(office):
    store(office)
    store(office)
    store(office, title="a4 24")
    names = set(LabelStock.objects.values_list("name", flat=True))
    assert len(names) == 3
    assert not names & set(STOCKS)


@pytest.mark.parametrize("name", sorted(STOCKS))
def test_every_shipped_stock_has_a_calibration_page_and_a_test_print(office, tmp_path, name):
    for deed in ("calibration", "test"):
        answer = office.get(reverse(f"batches:label-stock-{deed}", args=[name]))
        assert answer["Content-Type"] == "application/pdf"
        file = tmp_path / f"{deed}.pdf"
        file.write_bytes(answer.content)
        assert "Pages:           1\n" in run("pdfinfo", file)


def test_an_unknown_stock_is_told_on_the_list(office):
    answer = office.get(reverse("batches:label-stock-test", args=["nothing"]), follow=True)
    assert "There is no label stock “nothing”" in answer.content.decode()
