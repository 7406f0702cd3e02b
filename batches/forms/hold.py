"""Why are trays held, and why are they let go; when does a drill end?"""

from __future__ import annotations

from django import forms

from batches.forms.nursery_form import NurseryForm, OnceForm


class HoldForm(OnceForm):
    """Why these trays are held."""

    reason = forms.CharField(
        label="Why are they held?",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Everybody reads it: on Today, the map, the trays and where things leave.",
    )


class LiftForm(NurseryForm):
    """Why trays are let go again."""

    reason = forms.CharField(
        label="Why are they let go?",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="It is kept beside the hold.",
    )


class DrillForm(NurseryForm):
    """What to start a mock alarm from."""

    code = forms.CharField(
        label="Start from this code",
        max_length=200,
        required=False,
        help_text="A pot, tray, batch, lot, origin or medium batch. Empty: something that was sent "
        "is drawn by lot.",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "spellcheck": "false"}),
    )
