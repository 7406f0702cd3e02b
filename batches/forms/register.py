"""What is written into the registers: treatments, examinations, temperatures?"""

from __future__ import annotations

from typing import ClassVar

from django import forms

from batches.forms.nursery_form import NurseryForm, OnceForm, Rows, day_field, moment_field
from batches.models import House
from batches.services.examinations import ExaminationWords
from batches.services.treatments import TreatmentWords


def _place_field() -> forms.CharField:
    return forms.CharField(
        label="Where",
        max_length=4_000,
        help_text="Codes of houses, benches or trays, spaces between.",
        widget=forms.Textarea(attrs={"rows": 2, "autocapitalize": "characters"}),
    )


class TreatmentForm(OnceForm):
    """A treatment as the operator reads it off the label."""

    side_by_side: ClassVar[Rows] = (
        ("product",),
        ("rate", "operator"),
        ("place_or_trays",),
        ("done_at", "reentry_hours"),
    )
    units = {"reentry_hours": "hours"}

    product = forms.CharField(
        label="Product", max_length=120, help_text="Its name as on the label, or the beneficial."
    )
    rate = forms.CharField(
        label="Rate", required=False, max_length=80, help_text="As on the label, with its unit."
    )
    operator = forms.CharField(label="Operator", max_length=80)
    place_or_trays = _place_field()
    done_at = moment_field("Done at")
    reentry_hours = forms.FloatField(
        label="Nobody goes in for",
        required=False,
        help_text="As on the label; the round leaves the place out until then.",
    )

    def words(self) -> TreatmentWords:
        """Return what the deed is told."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "record_id"}
        return TreatmentWords(**given)


class ExaminationForm(OnceForm):
    """A plant-health examination."""

    side_by_side: ClassVar[Rows] = (
        ("on", "examiner"),
        ("place_or_trays",),
        ("looked_for",),
        ("finding",),
        ("action",),
    )

    on = day_field("Examined on")
    examiner = forms.CharField(label="Examined by", max_length=80)
    place_or_trays = _place_field()
    looked_for = forms.CharField(label="Looked for", required=False, max_length=200)
    finding = forms.CharField(
        label="Found",
        required=False,
        max_length=2_000,
        help_text="“Nothing found” is a finding.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    action = forms.CharField(
        label="Done about it",
        required=False,
        max_length=2_000,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def words(self) -> ExaminationWords:
        """Return what the deed is told."""
        given = {name: value for name, value in self.cleaned_data.items() if name != "record_id"}
        return ExaminationWords(**given)


class ReadingForm(NurseryForm):
    """One day's lowest and highest temperature in a house."""

    side_by_side: ClassVar[Rows] = (("house", "on"), ("lowest_c", "highest_c"), ("replace",))
    units = {"lowest_c": "°C", "highest_c": "°C"}

    house = forms.ModelChoiceField(
        label="House", queryset=House.objects.all(), to_field_name="code", empty_label=None
    )
    on = day_field("Day")
    lowest_c = forms.FloatField(label="Lowest", required=False)
    highest_c = forms.FloatField(label="Highest", required=False)
    replace = forms.BooleanField(label="Put it in the place of the one stored", required=False)


class PastedForm(NurseryForm):
    """Readings pasted from a logger's file."""

    pasted = forms.CharField(
        label="Lines",
        max_length=400_000,
        help_text="House, day, lowest, highest: H1,2026-11-24,-1.5,12. A header row may stand "
        "first.",
        widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}),
    )
    day_first = forms.BooleanField(label="Days are written day first: 24/11/2026", required=False)
    replace = forms.BooleanField(
        label="Put the new ones in the place of those stored", required=False
    )
