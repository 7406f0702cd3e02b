"""What is written down of a lot of spores, from the day it is cut to the day it ends?"""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from batches.forms.nursery_form import (
    NurseryForm,
    OnceForm,
    Rows,
    day_field,
    notes_field,
    own_code_field,
)
from batches.models import Source
from batches.models.spore_lot import METHODS


class OriginChoiceField(forms.ModelChoiceField):  # type: ignore[type-arg]
    """An origin by its code, shown with its fern."""

    def __init__(self, *, label: str, queryset: Any = None, **more: Any) -> None:
        if queryset is None:
            queryset = Source.objects.select_related("taxon").order_by(
                "taxon__genus", "taxon__species", "taxon__cultivar", "code"
            )
        more = {"to_field_name": "code", "empty_label": "choose an origin"} | more
        super().__init__(queryset=queryset, label=label, **more)

    def label_from_instance(self, obj: Source) -> str:
        return f"{obj.taxon.name.text}: {obj.code}, {obj.get_kind_display()}"


class LotForm(OnceForm):
    """A collection of spores of one fern, from one origin, on one day."""

    side_by_side: ClassVar[Rows] = (
        ("source",),
        ("collected_on", "collected_by"),
        ("method", "ripeness"),
    )

    source = OriginChoiceField(label="Origin")
    collected_on = day_field("Collected on", help_text="The day the fronds were cut.")
    collected_by = forms.CharField(label="Collected by", required=False, max_length=80)
    method = forms.ChoiceField(label="How", choices=[("", "not noted"), *METHODS], required=False)
    ripeness = forms.CharField(
        label="Ripeness",
        required=False,
        max_length=80,
        help_text="Like: sporangia dark, indusium lifting.",
    )
    laid_out_to_dry = forms.BooleanField(
        label="Laid out to dry that day: Today says when to clean it", required=False, initial=True
    )
    notes = notes_field()
    own_code = own_code_field(help_text="Leave it empty and a code is given out.")


class CleanForm(NurseryForm):
    """It was cleaned, weighed and put away."""

    side_by_side: ClassVar[Rows] = (("cleaned_on", "mass_mg"), ("storage",))
    units = {"mass_mg": "mg"}

    cleaned_on = day_field("Cleaned on")
    mass_mg = forms.FloatField(
        label="Weight", required=False, help_text="Clean spores; each sowing is taken off it."
    )
    storage = forms.CharField(
        label="How it is kept",
        required=False,
        max_length=120,
        help_text="Like: paper packet, box with silica gel, refrigerator 4 °C.",
    )


class SowTestForm(OnceForm):
    """A sample was sown to be counted."""

    sown_on = day_field("Sample sown on")


class CountTestForm(NurseryForm):
    """A sample was counted under the lens."""

    side_by_side: ClassVar[Rows] = (("counted_on",), ("counted", "germinated"))

    counted_on = day_field("Counted on")
    counted = forms.IntegerField(label="Spores counted", help_text="300 and more tell something.")
    germinated = forms.IntegerField(label="Of them came up")


class MendLotForm(NurseryForm):
    """What may be noted anew of a lot: its weight, how it is kept, by when to sow it."""

    side_by_side: ClassVar[Rows] = (
        ("remaining_mg", "sow_by"),
        ("storage",),
        ("collected_by", "ripeness"),
    )
    units = {"remaining_mg": "mg"}

    remaining_mg = forms.FloatField(label="Left, weighed again", required=False)
    sow_by = day_field("Sow by", required=False)
    storage = forms.CharField(label="How it is kept", required=False, max_length=120)
    collected_by = forms.CharField(label="Collected by", required=False, max_length=80)
    ripeness = forms.CharField(label="Ripeness", required=False, max_length=80)
    notes = notes_field()


class EndLotForm(NurseryForm):
    """It is used up or was thrown away."""

    side_by_side: ClassVar[Rows] = (("on", "why"),)

    on = day_field("On")
    why = forms.CharField(
        label="Why",
        max_length=120,
        help_text="Like: used up, swapped with whom, mouldy, no drop, too old.",
    )
