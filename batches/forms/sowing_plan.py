"""What is asked of a sowing plan?"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms

from batches.core.stages import Route
from batches.forms.nursery_form import NurseryForm, day_field
from batches.models import Taxon

CHANCES = (("0.8", "80 in 100"), ("0.9", "90 in 100"), ("0.95", "95 in 100"))
MOST_YEARS = 6


class SowingPlanForm(NurseryForm):
    """Which fern, how many ready pots, by which day, how sure."""

    fern = forms.ModelChoiceField(
        queryset=Taxon.objects.none(), to_field_name="code", label="Fern", empty_label="choose",
        error_messages={"invalid_choice": "There is no such fern here that is raised."},
    )  # fmt: skip
    pots = forms.IntegerField(
        label="Ready pots", min_value=1, max_value=100_000, help_text="As many as are promised."
    )
    by = day_field("By", help_text="The day on which they stand ready.")
    chance = forms.ChoiceField(
        label="How sure", choices=CHANCES, initial="0.9",
        help_text="90 in 100: in one of ten such cases fewer pots are ready.",
    )  # fmt: skip

    side_by_side = (("fern",), ("pots", "by"))

    def __init__(self, data: Any = None, *, today: date) -> None:
        if data is not None and not data.get("chance"):
            data = data.copy()
            data["chance"] = "0.9"
        super().__init__(data, initial={"chance": "0.9"})
        self._today = today
        ferns: Any = self.fields["fern"]
        ferns.queryset = Taxon.objects.exclude(routes=str(Route.BOUGHT_IN))
        ferns.label_from_instance = lambda taxon: taxon.name.text

    def clean_by(self) -> date:
        """Refuse a day that nobody plans for."""
        day: date = self.cleaned_data["by"]
        if day > self._today + timedelta(days=366 * MOST_YEARS):
            raise forms.ValidationError(f"Plan for at most {MOST_YEARS} years ahead.")
        return day

    @property
    def sure(self) -> float:
        """The chance asked for."""
        return float(self.cleaned_data["chance"])
