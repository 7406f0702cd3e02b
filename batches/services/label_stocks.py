"""Which label papers are the nursery's own, and how is one written down or put right?"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.text import slugify

from batches.core.errors import AlreadyTaken, NotUnderstood
from batches.models import LabelStock

_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_LONGEST_NAME = 40


def own_stocks(*, all_of_them: bool = False) -> list[LabelStock]:
    """Return the nursery's own stocks by name, those in use unless asked for all."""
    return list(LabelStock.objects.all() if all_of_them else LabelStock.objects.offered())


def name_for(title: str, *, taken: set[str]) -> str:
    """Return a short name out of a title, like ``a4-roll-3``; never one of ``taken``."""
    stem = slugify(title.replace("×", "x").replace(".", "-"))[: _LONGEST_NAME - 4].strip("-")
    stem = stem or "stock"
    wanted, number = stem, 1
    while wanted in taken or LabelStock.objects.filter(name=wanted).exists():
        number += 1
        wanted = f"{stem}-{number}"
    return wanted


def store_stock(
    *, name: str, measures: Mapping[str, Any], stock: LabelStock | None = None
) -> LabelStock:
    """Write a stock down, or put the measures of ``stock`` right; its name stays.

    Whether the measures can be true is for `batches.labels.check_stock` to say, before.

    Raises
    ------
    NotUnderstood, AlreadyTaken
        When the name is none, or another stock's. Nothing is stored then.
    """
    if stock is not None:
        for field, value in measures.items():
            setattr(stock, field, value)
        stock.save(update_fields=list(measures))
        return stock
    if not _NAME.fullmatch(name) or len(name) > _LONGEST_NAME:
        raise NotUnderstood(
            "A stock's short name is of a-z, 0-9 and hyphens. Nothing was stored.", field="name"
        )
    try:
        with transaction.atomic():
            return LabelStock.objects.create(name=name, **measures)
    except IntegrityError:
        raise AlreadyTaken(
            f"There is a label stock “{name}” already. Nothing was stored; choose another name.",
            field="name",
        ) from None


def set_in_use(*, stock: LabelStock, in_use: bool) -> LabelStock:
    """Offer a stock on the labels page, or no longer."""
    LabelStock.objects.filter(pk=stock.pk).update(in_use=in_use)
    stock.refresh_from_db()
    return stock
