"""Which label stocks may be printed on here: the shipped ones and the nursery's own?"""

from __future__ import annotations

from dataclasses import fields

from batches.labels.errors import LabelRefused
from batches.labels.stocks import STOCKS, Stock
from batches.models import LabelStock

MEASURES = tuple(field.name for field in fields(Stock) if field.name not in {"name"})
"""Names of what a stock is measured by, its title among them."""


def as_stock(own: LabelStock) -> Stock:
    """Return a stock of the nursery's own as the printer takes it."""
    return Stock(name=own.name, **{name: getattr(own, name) for name in MEASURES})


def stocks_offered() -> dict[str, Stock]:
    """Return all stocks by name, the shipped ones first; one query."""
    own = {stock.name: as_stock(stock) for stock in LabelStock.objects.offered()}
    return {**STOCKS, **own}


def stock_called(name: str) -> Stock:
    """Return the stock of that name, shipped or own, also one taken out of use.

    LabelRefused lists the names there are.
    """
    if name in STOCKS:
        return STOCKS[name]
    own = LabelStock.objects.filter(name=name).first()
    if own is None:
        known = ", ".join(stocks_offered())
        raise LabelRefused(
            f"There is no label stock “{name[:40]}”. There are: {known}.", field="stock"
        )
    return as_stock(own)
