"""Is a long name, and one that stands in four parts, printed whole on every stock?

The names are of the longest kind that ferns bear: a species, a rank below it, a Group, a cultivar
of three or four words (built after the rules of the ICNCP; the cultivars are invented).
"""

from __future__ import annotations

import pytest

from batches.core.names import botanical_name
from batches.labels.layout import Laid, lay_out, manner_of
from batches.labels.rows import LabelRow, Runs
from batches.labels.stocks import STOCKS, Stock
from tests.labels.examples import LONG_HOST, SHORT_HOST, lot, pot, tray

FOUR_PARTS = botanical_name(
    genus="Polystichum", species="setiferum", group="Plumosodivisilobum Group",
    cultivar="Plumosomultilobum Densum Ashlinn",
)  # fmt: skip
WITH_RANK = botanical_name(
    genus="Asplenium", species="scolopendrium", infra_rank="var.", infra_epithet="americanum",
    cultivar="Crispum Bolton's Hollowmere Nobile",
)  # fmt: skip
HYBRID = botanical_name(
    genus="Asplenophyllitis", species="microdonta × confluentissima", hybrid="genus",
    cultivar="Grandiceps Superbissimum",
)  # fmt: skip
NAMES = [
    pytest.param(tuple((run.text, run.italic) for run in name.runs), id=name.text)
    for name in (FOUR_PARTS, WITH_RANK, HYBRID)
]
EVERY_STOCK = pytest.mark.parametrize("stock", STOCKS.values(), ids=lambda stock: stock.name)


def printed(row: LabelRow, stock: Stock, *, among: list[LabelRow]) -> Laid:
    return lay_out(row, manner_of([row, *among], stock))


def said(done: Laid) -> str:
    return "".join("".join(text for text, _ in one.line) for one in done.lines).replace(" ", "")


@EVERY_STOCK
@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("host", [SHORT_HOST, LONG_HOST])
def test_a_long_name_stands_whole_beside_all_that_a_label_may_say(
    stock: Stock, name: Runs, host: str
) -> None:
    full = "".join(text for text, _ in name).replace(" ", "")
    for row in (
        tray(112, host=host, name=name),
        pot(73, host=host),
        lot(host=host),
    ):
        row = LabelRow(**{**{f: getattr(row, f) for f in row.__slots__}, "name_runs": name})
        done = printed(row, stock, among=[tray(1, host=host), pot(74, host=host), lot(host=host)])
        assert full in said(done), (row.kind, said(done))
        assert not [note for note in done.notes if "name" in note]
        assert all(one.size >= 4.5 for one in done.lines)


@EVERY_STOCK
def test_nothing_stands_in_the_third_that_goes_into_the_soil(stock: Stock) -> None:
    row = tray(112, name=NAMES[0].values[0])
    done = printed(row, stock, among=[])
    lowest = max(one.y + one.size for one in done.lines)
    most = stock.label_height * (2 / 3 if stock.blank_lower_third else 1)
    assert lowest <= most * 72 / 25.4
    assert done.frame.qr_y + done.plan.side_mm <= most + 1e-6


def test_the_stick_in_stock_is_among_them() -> None:
    assert any(stock.blank_lower_third for stock in STOCKS.values())
