"""What is the same on every plant passport of this nursery?"""

from __future__ import annotations

from django import forms

from batches.forms.nursery_form import NurseryForm
from batches.services.passports import FORMS


class PassportTermsForm(NurseryForm):
    """The nursery's registration, as its plant-health authority gave it."""

    side_by_side = (("form",), ("member_state", "registration"), ("title", "origin"), ("gb_ni",))

    form = forms.ChoiceField(
        label="Which passports?", choices=FORMS, required=False, widget=forms.RadioSelect
    )
    member_state = forms.CharField(
        label="Member state (B)",
        max_length=2,
        required=False,
        help_text="Two letters, like IE; EU form only.",
    )
    registration = forms.CharField(
        label="Registration number (B)",
        max_length=50,
        required=False,
        help_text="As your plant-health authority gave it.",
    )
    title = forms.CharField(
        label="“Plant Passport” in your official language",
        max_length=60,
        required=False,
        help_text="Like Pas Phlandaí; English follows behind a slash. Empty: English alone.",
    )
    origin = forms.CharField(
        label="Country of origin (D)",
        max_length=60,
        required=False,
        help_text="Two letters or the country's name. A print may say another.",
    )
    gb_ni = forms.BooleanField(
        label="Part E says GB(NI)", required=False, help_text="GB form only, where it applies."
    )
