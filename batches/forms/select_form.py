"""What does one say when a form is selected out of a tray?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any, ClassVar

from django import forms

from batches.forms.nursery_form import OnceForm, Rows, day_field, notes_field
from batches.models import Taxon, Tray
from batches.models.tray import UNITS


class SelectForm(OnceForm):
    """How many leave as a batch of their own, into what, and what they are called from now on."""

    side_by_side: ClassVar[Rows] = (
        ("quantity", "on"), ("container", "pot_size", "unit"), ("taxon", "sold_as"),
    )  # fmt: skip

    quantity = forms.IntegerField(label="How many are taken", min_value=1, max_value=1_000_000)
    on = day_field("Taken on")
    container = forms.CharField(label="Into which container", max_length=60)
    pot_size = forms.CharField(label="Pot size", max_length=20, required=False)
    unit = forms.ChoiceField(label="Counted in", choices=UNITS)
    taxon = forms.ModelChoiceField(
        label="It is now called", queryset=Taxon.objects.none(), required=False,
        to_field_name="code", empty_label="what its tray is called",
    )  # fmt: skip
    sold_as = forms.CharField(
        label="Sold as", max_length=160, required=False,
        help_text="What labels print, when it is not the fern's own name.",
    )  # fmt: skip
    notes = notes_field("What is special about it")
    revision = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, data: Mapping[str, Any] | None = None, *, tray: Tray, today: date) -> None:
        initial = {
            "quantity": 1, "on": today, "container": tray.container, "pot_size": tray.pot_size,
            "unit": tray.unit, "revision": tray.revision,
        }  # fmt: skip
        super().__init__(data, initial=initial)
        self.fields["taxon"].queryset = Taxon.objects.all()  # type: ignore[attr-defined]
