"""Which fields let people count by gaps, by rows or by eighths, and what do they come to?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from batches.core.rough_counts import EIGHTHS, by_eighths, by_rows, full_less_gaps
from batches.models import Tray

#: the fields of every way to count roughly; each way is told by its first
_WAYS = {"gaps": ("gaps",), "rows": ("rows", "per_row"), "eighths": ("eighths",)}
_MOST = 2_000


def rough_fields(tray: Tray) -> dict[str, forms.Field]:
    """Return the fields that fit a tray: gaps and eighths need its cells, rows always do."""
    fields: dict[str, forms.Field] = {}
    if tray.cells:
        fields["gaps"] = forms.IntegerField(
            label=f"Full ({tray.cells} cells) less gaps", required=False, min_value=0,
            max_value=tray.cells, widget=_number({"data-cells": tray.cells}),
        )  # fmt: skip
    fields["rows"] = forms.IntegerField(
        label="Full rows", required=False, min_value=0, max_value=_MOST, widget=_number()
    )
    fields["per_row"] = forms.IntegerField(
        label="In each row", required=False, min_value=1, max_value=_MOST, widget=_number()
    )
    if tray.cells:
        fields["eighths"] = forms.IntegerField(
            label="Eighths of the tray", required=False, min_value=0, max_value=EIGHTHS,
            widget=_number({"data-cells": tray.cells}),
        )  # fmt: skip
    return fields


def _number(more: Mapping[str, Any] | None = None) -> forms.NumberInput:
    return forms.NumberInput(attrs={"inputmode": "numeric", **(more or {})})


def put_together(form: forms.Form, found: dict[str, Any], *, cells: int | None) -> int | None:
    """Return what the rough fields come to; None when they are empty or do not fit together.

    What does not fit is told beside its field: two ways at once, or rows without a number in each.
    """
    given = {
        way: [found.get(name) for name in names]
        for way, names in _WAYS.items()
        if any(found.get(name) is not None for name in names)
    }
    if not given:
        return None
    if found.get("count") is not None:
        given["count"] = []
    if len(given) > 1:
        second = list(given)[1] if "count" not in given else next(iter(given))
        form.add_error(second, "Count in one way only; leave the other numbers empty.")
        return None
    ((way, numbers),) = given.items()
    first = numbers[0]
    if way == "gaps" and first is not None:
        return full_less_gaps(cells=cells or 0, gaps=first)
    if way == "eighths" and first is not None:
        return by_eighths(eighths=first, cells=cells or 0)
    each = numbers[1]
    if first is None or each is None:
        form.add_error("per_row" if each is None else "rows", "Both numbers belong together.")
        return None
    return by_rows(rows=first, per_row=each)
