"""Which PIN proves a name at the bench?"""

from __future__ import annotations

from django import forms

from batches.forms.nursery_form import NurseryForm


class PinForm(NurseryForm):
    """A PIN of six digits or more; the service says which are too easy."""

    pin = forms.CharField(
        label="PIN",
        max_length=12,
        help_text="Six to twelve digits; none in a row, not one digit over and over.",
        widget=forms.PasswordInput(
            attrs={"inputmode": "numeric", "autocomplete": "new-password", "class": "short"}
        ),
    )
