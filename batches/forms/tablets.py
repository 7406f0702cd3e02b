"""Which tablet is enrolled, and whose waiting items does a file hold?"""

from __future__ import annotations

from typing import Any

from django import forms

from batches.forms.nursery_form import NurseryForm
from batches.models import Device
from batches.services.photos import MOST_BYTES


class EnrolForm(NurseryForm):
    """What the tablet is called."""

    name = forms.CharField(
        label="Name of the tablet",
        max_length=80,
        help_text="After its place, like Mist house.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class WaitingFileForm(NurseryForm):
    """The file that a tablet saved."""

    file = forms.FileField(
        label="File from the tablet",
        widget=forms.ClearableFileInput(attrs={"accept": ".json,application/json"}),
        error_messages={"required": "Choose the file that the tablet saved."},
    )
    tablet = forms.ModelChoiceField(
        label="Which tablet saved it",
        queryset=Device.objects.all(),
        required=False,
        empty_label="not known",
    )

    def clean_file(self) -> Any:
        """Refuse a file larger than any tablet's."""
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError("This is larger than 10 MB: no file that a tablet saved.")
        return file
