"""What is written down of a batch after it was started?"""

from __future__ import annotations

from django import forms

from batches.forms.nursery_form import NurseryForm, day_field, notes_field


class ConfirmTrueForm(NurseryForm):
    """A cultivar raised from spores came true."""

    on = day_field("Seen to be true on")


class SoldAsForm(NurseryForm):
    """What labels print, and notes."""

    sold_as = forms.CharField(
        label="Sold as",
        required=False,
        max_length=160,
        help_text="What labels print. Empty: the fern's own name.",
    )
    notes = notes_field(rows=3)
