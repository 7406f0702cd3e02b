"""Does every label keep its words in their column, its QR clear, and one set of type a print?"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from batches.labels.errors import LabelRefused
from batches.labels.faces import width_em
from batches.labels.fitting import LEADING
from batches.labels.layout import Laid, lay_out, manner_of
from batches.labels.placing import POINTS_PER_MM, frame_for, plan_for
from batches.labels.qr import DOT_MM, QUIET
from batches.labels.rows import LabelRow
from batches.labels.stocks import STOCKS, Stock
from tests.labels.examples import LONG_HOST, SHORT_HOST, every_kind, label, lot, passport, pot, tray

HARD_NAMES = [
    (("Asplenium scolopendrium", True), (" 'Crispum Nobile Extraordinarily Long'", False)),
    (("x" * 300, True),),
    (("many words " * 30, False),),
    (("Щитовник мужской широколистный", True),),
    (("蕨" * 60, False),),
]


def laid(row: LabelRow, stock: Stock) -> Laid:
    return lay_out(row, manner_of([row], stock))


def lines(label_: Laid) -> list[str]:
    return ["".join(text for text, _ in one.line) for one in label_.lines]


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
@pytest.mark.parametrize("host", [SHORT_HOST, LONG_HOST])
def test_words_stay_in_their_column_and_off_the_qr(stock: Stock, host: str) -> None:
    rows = every_kind(host=host)
    rows += [tray(name=name, host=host) for name in HARD_NAMES]
    for row in rows:
        done = laid(row, stock)
        frame = done.frame
        left, right = frame.x * POINTS_PER_MM, (frame.x + frame.width) * POINTS_PER_MM
        top, bottom = frame.y * POINTS_PER_MM, (frame.y + frame.height) * POINTS_PER_MM
        for one in done.lines:
            wide = sum(width_em(t, bold=one.bold, italic=i) for t, i in one.line) * one.size
            assert one.x >= left - 1e-6
            assert one.x + wide <= right + 1e-6, (row.code, one)
            # Above the capitals a line box holds air, which may reach over the column's edge.
            assert one.y >= top - 0.21 * one.size
            assert one.y + one.size * LEADING <= bottom + 0.01
        ordered = sorted(done.lines, key=lambda one: one.y)
        for upper, lower in pairwise(ordered):
            assert upper.y + upper.size * LEADING <= lower.y + 0.01


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
@pytest.mark.parametrize("host", [SHORT_HOST, LONG_HOST])
def test_the_qr_has_its_quiet_zone_its_dots_and_the_printable_part(stock: Stock, host: str) -> None:
    for row in every_kind(host=host):
        plan = plan_for(stock, row.url)
        frame = frame_for(stock, plan)
        # 0.50 mm and four quiet modules: the bars of the design; ISO/IEC 18004 for the quiet zone.
        assert plan.module_mm >= 0.5
        assert frame.qr_x >= 0
        assert frame.qr_x + plan.side_mm <= stock.label_width + 1e-9
        assert frame.qr_y >= 0
        assert frame.qr_y + plan.side_mm <= stock.usable_height + 1e-9
        dark = frame.qr_x + QUIET * plan.module_mm
        assert dark >= stock.inset_x - DOT_MM
        assert dark + plan.modules * plan.module_mm <= stock.label_width - stock.inset_x + 1e-9
        for place in (frame.qr_x, frame.qr_y):
            assert place / DOT_MM == pytest.approx(round(place / DOT_MM))


def test_labels_of_one_print_share_their_type() -> None:
    rows = [tray(1), tray(2, name=(("Osmunda regalis", True),)), tray(3)]
    rows += [tray(4, code="4-26W14-073-K-WITH-A-LONGER-QR")]
    for stock in STOCKS.values():
        done = [lay_out(row, manner_of(rows, stock)) for row in rows]
        assert len({label_.plan.version for label_ in done}) == 2
        assert len({label_.lines[0].size for label_ in done}) == 1
        assert len({(label_.lines[0].x, label_.lines[0].y) for label_ in done}) == 1


def test_a_tray_label_says_what_the_design_asks() -> None:
    words = " ".join(lines(laid(tray(3), STOCKS["a4-24"])))
    for part in ("Dryopteris affinis", "'Crispa Gracilis'", "30 Mar 2026", "(wk 14)"):
        assert part in words
    for part in ("3-26W14-073-K", "lot 26L-012-R", "tray 3"):
        assert part in words


def test_fern_date_and_code_are_larger_than_the_rest() -> None:
    done = laid(tray(3), STOCKS["a4-24"])
    size = {text: one.size for text, one in zip(lines(done), done.lines, strict=True)}
    small = size["lot 26L-012-R · tray 3"]
    assert min(size["Dryopteris affinis"], size["(wk 14)"], size["3-26W14-073-K"]) > 1.2 * small


@pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)
def test_ordinary_labels_are_printed_whole_on_every_stock(stock: Stock) -> None:
    for row in every_kind():
        done = laid(row, stock)
        assert done.notes == ()
        assert all(one.size >= 4.5 for one in done.lines)


def test_a_name_too_long_for_its_label_ends_visibly_and_is_told() -> None:
    done = laid(tray(name=(("many words " * 30, False),)), STOCKS["a4-65"])
    assert any(line.endswith("…") for line in lines(done))
    assert any("the name is too long" in note for note in done.notes)


def test_the_code_is_never_cut() -> None:
    code = "W" * 32
    for stock in STOCKS.values():
        done = laid(label(code=code, sown_text="sown Mon 30 Mar 2026 (wk 14)"), stock)
        assert code in "".join(lines(done))


def test_what_finds_no_room_is_left_off_and_told() -> None:
    crowded = pot(extra_lines=tuple(f"line {number} of many" for number in range(12)))
    done = laid(crowded, STOCKS["a4-65"])
    assert any("left off" in note for note in done.notes)
    assert "26W14-073-K" in lines(done)


def test_two_equal_lines_are_two_lines() -> None:
    done = laid(replace(lot(), extra_lines=("same", "same")), STOCKS["a4-24"])
    assert lines(done).count("same") == 2


def test_a_label_with_no_name_still_prints_its_code() -> None:
    done = laid(label(name=(("\u202e", False),)), STOCKS["a4-24"])
    assert lines(done) == ["3-26W14-073-K"]


def test_a_stock_without_room_for_words_is_refused() -> None:
    square = replace(
        STOCKS["single-100x25"], page_width=25, label_width=25, page_height=25, label_height=25
    )
    with pytest.raises(LabelRefused, match=r"larger label|does not fit"):
        laid(tray(), square)


def test_a_large_stock_of_one_s_own_gets_large_type() -> None:
    small = STOCKS["single-100x25"]
    large = replace(small, page_width=148, label_width=148, page_height=105, label_height=105)
    assert laid(tray(), large).lines[0].size > 1.5 * laid(tray(), small).lines[0].size


def test_a_plant_passport_is_whole_or_refused() -> None:
    done = laid(pot(passport=passport()), STOCKS["a4-24"])
    words = " ".join(lines(done))
    for part in (
        "Plant Passport",
        "A. Dryopteris affinis",
        "B. XX-00012345",
        "C. 26W14-073-K",
        "D. XX",
    ):
        assert part in words
    with pytest.raises(LabelRefused, match=r"passport|do not fit"):
        laid(pot(passport=passport()), STOCKS["a4-65"])
    with pytest.raises(LabelRefused, match="part A is too long"):
        laid(pot(passport=passport(a="Dryopteris " * 20)), STOCKS["a4-24"])
