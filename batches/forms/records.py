"""Which files are to be imported, and how are their dates read?"""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from batches.forms.nursery_form import NurseryForm


class ManyFilesInput(forms.ClearableFileInput):
    """An input for several files at once."""

    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """One file or several; always a list of them."""

    widget = ManyFilesInput

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        """Check every file as a single one is checked."""
        files = data if isinstance(data, (list, tuple)) else [data]
        return [super(ManyFilesField, self).clean(file, initial) for file in files or [None]]


class ImportForm(NurseryForm):
    """The upload of records."""

    chosen = ManyFilesField(
        label="Files",
        help_text="One zip, or one or more of the CSV files. Nothing is stored before you have "
        "seen what is in them.",
        widget=ManyFilesInput(attrs={"accept": ".zip,.csv,.json"}),
        error_messages={
            "required": "Choose a zip, or one or more CSV files.",
            "empty": "This file is empty. Nothing was stored; choose another.",
        },
    )
    day_first = forms.BooleanField(
        label="Dates are written day first, like 24/11/2026",
        required=False,
        help_text="Without this, a date that does not begin with the year is an error.",
    )
