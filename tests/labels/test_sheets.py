"""Does each distinct label get drawn once, and stand where it should?"""

from __future__ import annotations

import io
from itertools import pairwise

import pytest

from batches.labels.rows import LabelRow
from batches.labels.sheets import PORTION, Printed, write_labels
from batches.labels.stocks import STOCKS
from tests.labels.examples import pot, tray
from tests.labels.paper import PRINTER

pytestmark = PRINTER


def printed(
    rows: list[LabelRow], stock: str = "a4-24", *, copies: int = 1, start_at: int = 1
) -> bytes:
    return printed_with_account(rows, stock, copies=copies, start_at=start_at)[0]


def printed_with_account(
    rows: list[LabelRow], stock: str = "a4-24", *, copies: int = 1, start_at: int = 1
) -> tuple[bytes, Printed, list[int]]:
    heard: list[int] = []
    target = io.BytesIO()
    account = write_labels(
        rows, STOCKS[stock], target, copies=copies, start_at=start_at, progress=heard.append
    )
    return target.getvalue(), account, heard


def forms(pdf: bytes) -> int:
    return pdf.count(b"/Subtype /Form")


def test_copies_share_one_drawing() -> None:
    assert forms(printed([pot(1), pot(2)], copies=30)) == 2
    assert forms(printed([pot(1), pot(2), pot(1)])) == 2


def test_a_thousand_copies_cost_hardly_more_than_ten() -> None:
    few, many = printed([pot(1)], copies=10), printed([pot(1)], copies=1000)
    assert len(many) < len(few) + 40_000


@pytest.mark.parametrize(
    ("labels", "start_at", "sheets"),
    [(24, 1, 1), (25, 1, 2), (24, 2, 2), (1, 24, 1), (2, 24, 2), (49, 24, 3)],
)
def test_sheets_are_as_many_as_the_labels_need(labels: int, start_at: int, sheets: int) -> None:
    _, account, _ = printed_with_account([pot(1)], copies=labels, start_at=start_at)
    assert (account.labels, account.sheets) == (labels, sheets)


def test_singles_are_one_label_a_page() -> None:
    _, account, _ = printed_with_account([pot(1), pot(2)], "single-100x25", copies=3)
    assert account.sheets == 6


def test_a_long_run_goes_out_in_portions_and_says_how_far_it_is() -> None:
    rows = [tray(number) for number in range(PORTION + 5)]
    pdf, account, heard = printed_with_account(rows)
    assert heard == [PORTION, PORTION + 5]
    assert all(earlier < later for earlier, later in pairwise(heard))
    assert account.labels == len(rows)
    assert forms(pdf) == len(rows)


def test_the_same_labels_make_the_same_file() -> None:
    assert printed([pot(1), tray(2)]) == printed([pot(1), tray(2)])
