"""What is written down of a house, and how is a bench drawn?"""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from batches.forms.nursery_form import NurseryForm, OnceForm, Rows
from batches.models import Bench, House
from batches.services.houses import MOST_ALIKE, MOST_PLACES


class HouseForm(NurseryForm):
    """A glasshouse, tunnel or frame."""

    side_by_side: ClassVar[Rows] = (("name",), ("light_note", "temperature_note"), ("frost_free",))

    name = forms.CharField(label="Name", required=False, max_length=80)
    light_note = forms.CharField(
        label="Light", required=False, max_length=200, help_text="Like: shaded, north side."
    )
    temperature_note = forms.CharField(
        label="Temperature", required=False, max_length=200, help_text="Like: 15 °C from below."
    )
    frost_free = forms.BooleanField(label="Kept free of frost", required=False)


class NewHouseForm(OnceForm, HouseForm):
    """A new house with a code of the nursery's own."""

    side_by_side: ClassVar[Rows] = (
        ("code", "name"),
        ("light_note", "temperature_note"),
        ("frost_free",),
    )

    code = forms.CharField(
        label="Code",
        max_length=32,
        help_text="Short, like H1 or FRAME; it stands on lists and prints.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class BenchForm(NurseryForm):
    """A bench of rows and columns, and its place in the walk."""

    side_by_side: ClassVar[Rows] = (("name",), ("rows", "columns"), ("walk",), ("house",))

    name = forms.CharField(label="Name", required=False, max_length=80)
    rows = forms.IntegerField(
        label="Rows",
        required=False,
        min_value=1,
        max_value=MOST_PLACES,
        help_text="Places from front to back. Leave both empty where trays stand without a place.",
    )
    columns = forms.IntegerField(
        label="Columns",
        required=False,
        min_value=1,
        max_value=MOST_PLACES,
        help_text="Places from left to right.",
    )
    walk = forms.ChoiceField(label="In the walk it comes", required=False)
    house = forms.ModelChoiceField(
        label="House", queryset=House.objects.all(), to_field_name="code", empty_label=None
    )

    def __init__(self, *args: Any, bench: Bench | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = [one for one in Bench.objects.in_walking_order() if one != bench]
        choices = [("", "last")] if bench is None else []
        choices += [("first", "first")] + [(one.code, f"after {one}") for one in others]
        self.fields["walk"].choices = choices  # type: ignore[attr-defined]

    def walk_after(self) -> Bench | None:
        """Return the bench it comes after; None for first and last."""
        word = self.cleaned_data["walk"]
        return Bench.objects.get(code=word) if word not in {"", "first"} else None


class NewBenchForm(OnceForm, BenchForm):
    """A new bench with a code of the nursery's own."""

    side_by_side: ClassVar[Rows] = (
        ("house",),
        ("code", "name"),
        ("rows", "columns"),
        ("alike",),
        ("walk",),
    )

    code = forms.CharField(
        label="Code",
        max_length=32,
        help_text="Short, like B3; it stands on lists and prints.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    alike = forms.IntegerField(
        label="Benches like this",
        required=False,
        min_value=1,
        max_value=MOST_ALIKE,
        initial=1,
        help_text="More than one: their codes count on, M1, M2, M3, in walking order.",
        widget=forms.NumberInput(attrs={"class": "short"}),
    )

    def more(self) -> int:
        """Return how many benches are drawn beside the first."""
        return (self.cleaned_data["alike"] or 1) - 1
