"""What is written down of one mixing of medium?"""

from __future__ import annotations

from typing import ClassVar

from django import forms

from batches.forms.nursery_form import (
    OnceForm,
    Rows,
    day_field,
    moment_field,
    notes_field,
    own_code_field,
)


class MediumForm(OnceForm):
    """One mixing: its parts by volume, and how it was made clean."""

    side_by_side: ClassVar[Rows] = (
        ("recipe",),
        ("made_on", "litres"),
        ("treatment",),
        ("temperature_c", "minutes"),
        ("cooled_at", "bag_number"),
        ("notes",),
        ("keep_as", "own_code"),
    )
    units = {"litres": "litres", "temperature_c": "°C", "minutes": "minutes"}

    recipe = forms.CharField(
        label="Parts by volume",
        max_length=200,
        help_text="Like peat:2 perlite:1, or bark:3 loam:1.",
        widget=forms.TextInput(attrs={"list": "recipes", "autocomplete": "off"}),
    )
    made_on = day_field("Mixed on")
    litres = forms.FloatField(label="How much", required=False, help_text="As mixed, moist.")
    treatment = forms.CharField(
        label="Made clean by",
        required=False,
        max_length=80,
        widget=forms.TextInput(attrs={"list": "ways"}),
    )
    temperature_c = forms.FloatField(
        label="Heat in the middle", required=False, help_text="60 °C for 30 minutes is usual."
    )
    minutes = forms.FloatField(
        label="For", required=False, help_text="From when the middle was as hot as that."
    )
    cooled_at = moment_field("Cooled at", required=False, help_text="Cooled under a cover.")
    bag_number = forms.CharField(
        label="Maker's number on the bag",
        required=False,
        max_length=80,
        help_text="A bad bag is traced by it.",
    )
    notes = notes_field()
    keep_as = forms.CharField(
        label="Keep the recipe as",
        required=False,
        max_length=60,
        help_text="A name, to mix it again.",
    )
    own_code = own_code_field(help_text="Leave it empty and a code is given out.")
