"""What does one say when a tray is moved, thrown out or sent off?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any
from uuid import uuid4

from django import forms

from batches.core.signs import CAUSE_WORDS, CAUSES
from batches.models import Bench, Order, Tray

_DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


class MoveForm(forms.Form):
    """Where the tray goes: a bench, and a place on it where the nursery keeps them."""

    bench = forms.ModelChoiceField(
        label="Bench", queryset=Bench.objects.none(), to_field_name="code"
    )
    row = forms.IntegerField(label="Row", required=False, min_value=1)
    column = forms.IntegerField(label="Column", required=False, min_value=1)
    on = forms.DateField(label="Moved on", widget=_DAY)
    taken = forms.ChoiceField(
        label="If the place is taken",
        required=False,
        choices=[("", "say so"), ("swap", "the two change places"), ("stack", "both stand there")],
    )
    record_id = forms.UUIDField(widget=forms.HiddenInput)
    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, tray: Tray, today: date) -> None:
        super().__init__(
            data,
            initial={
                "bench": tray.bench.code if tray.bench else None, "row": tray.row,
                "column": tray.column, "on": today, "record_id": uuid4(),
                "revision": tray.revision,
            },
        )  # fmt: skip
        self.fields["bench"].queryset = Bench.objects.in_walking_order()  # type: ignore[attr-defined]


class DiscardForm(forms.Form):
    """Why the tray is thrown out; a young one asks for a second look."""

    cause = forms.ChoiceField(
        label="Cause", choices=[("", "choose"), *((cause, CAUSE_WORDS[cause]) for cause in CAUSES)]
    )
    on = forms.DateField(label="Thrown out on", widget=_DAY)
    second_look = forms.BooleanField(
        label="Somebody looked a second time and agrees",
        required=False,
        help_text="Prothalli look like lumpy moss. A young covered tray needs a second look.",
    )
    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, tray: Tray, today: date) -> None:
        super().__init__(data, initial={"on": today, "revision": tray.revision})


class DispatchForm(forms.Form):
    """How many leave, to whom, and for which order."""

    quantity = forms.IntegerField(label="How many", min_value=1)
    recipient = forms.CharField(
        label="To whom",
        max_length=120,
        required=False,
        help_text="So that a pot can be traced to whoever got it.",
    )
    order = forms.ModelChoiceField(
        label="For the order", queryset=Order.objects.none(), required=False, to_field_name="code"
    )
    on = forms.DateField(label="Leaves on", widget=_DAY)
    record_id = forms.UUIDField(widget=forms.HiddenInput)
    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, tray: Tray, today: date) -> None:
        initial = {"on": today, "record_id": uuid4(), "revision": tray.revision}
        super().__init__(data, initial=initial)
        orders = Order.objects.open().filter(taxon=tray.batch.taxon)
        self.fields["order"].queryset = orders  # type: ignore[attr-defined]
        self.fields["quantity"].label = f"How many {tray.unit}"

    def clean(self) -> dict[str, Any]:
        """Ask for a recipient unless the order names its customer."""
        found = super().clean() or {}
        order = found.get("order")
        if not found.get("recipient"):
            if order is None or not order.customer:
                self.add_error("recipient", "To whom do they go? The trail needs it.")
            else:
                found["recipient"] = order.customer
        return found
