"""Are label stocks true to their paper, and are impossible ones refused?"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from batches.labels.errors import LabelRefused
from batches.labels.stocks import STOCKS, Stock, check_stock, stock_named

SHEET = STOCKS["a4-24"]


def test_the_promised_stocks_are_shipped_and_sound() -> None:
    assert {"a4-24", "a4-65", "single-100x25"} <= set(STOCKS)
    for stock in STOCKS.values():
        check_stock(stock)


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
def test_every_label_lies_on_the_page_and_none_on_another(stock: Stock) -> None:
    boxes = []
    for place in range(stock.labels_per_page):
        x, y = stock.corner(place)
        boxes.append((x, y, x + stock.label_width, y + stock.label_height))
    for number, (left, top, right, bottom) in enumerate(boxes):
        assert left >= 0
        assert top >= 0
        assert right <= stock.page_width + 0.01
        assert bottom <= stock.page_height + 0.01
        for other in boxes[number + 1 :]:
            apart = other[0] >= right - 0.01 or other[2] <= left + 0.01
            apart = apart or other[1] >= bottom - 0.01 or other[3] <= top + 0.01
            assert apart


def test_a_sheet_is_centred_on_its_page() -> None:
    # A4 is 210 × 297 mm: ISO 216.
    for name in ("a4-24", "a4-65"):
        stock = STOCKS[name]
        first, last = stock.corner(0), stock.corner(stock.labels_per_page - 1)
        assert (stock.page_width, stock.page_height) == (210, 297)
        assert first[0] == pytest.approx(210 - last[0] - stock.label_width, abs=0.11)
        assert first[1] == pytest.approx(297 - last[1] - stock.label_height, abs=0.11)


def test_labels_run_along_the_rows() -> None:
    assert SHEET.corner(1)[1] == SHEET.corner(0)[1]
    assert SHEET.corner(3)[0] == SHEET.corner(0)[0]
    assert SHEET.corner(3)[1] == pytest.approx(SHEET.corner(0)[1] + 33.9)


def test_a_shift_moves_every_label() -> None:
    shifted = replace(SHEET, offset_x=1.5, offset_y=-0.5)
    for place in (0, 23):
        x, y = SHEET.corner(place)
        assert shifted.corner(place) == pytest.approx((x + 1.5, y - 0.5))


def test_the_lower_third_of_a_stick_in_label_is_not_for_printing() -> None:
    assert STOCKS["stick-in-25x127"].usable_height == pytest.approx(127 * 2 / 3)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"columns": 4}, "columns need"),
        ({"rows": 9}, "rows need"),
        ({"rows": 0}, "at least one row"),
        ({"label_width": 0.0}, "between 0 and 1,000"),
        ({"page_width": float("nan")}, "between 0 and 1,000"),
        ({"page_height": 1e9}, "between 0 and 1,000"),
        ({"gap_x": -1.0}, "negative"),
        ({"label_height": 8.0}, "at least 10 mm"),
        ({"inset_x": 40.0}, "leave nothing"),
        ({"single": True}, "one row and one column"),
        ({"offset_x": 50.0}, "calibration"),
        ({"rows": 50, "columns": 50}, "1,000 labels"),
    ],
)
def test_a_stock_that_cannot_be_is_refused_in_plain_words(
    change: dict[str, Any], says: str
) -> None:
    with pytest.raises(LabelRefused, match=says):
        check_stock(replace(SHEET, **change))


def test_an_unknown_stock_is_answered_with_the_known_ones() -> None:
    with pytest.raises(LabelRefused, match="a4-65"):
        stock_named("a4-66")
    assert stock_named("a4-65") is STOCKS["a4-65"]
