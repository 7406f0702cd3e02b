"""What is written down of an order?"""

from __future__ import annotations

from typing import ClassVar

from django import forms

from batches.forms.nursery_form import OnceForm, Rows, day_field, own_code_field
from batches.models import Taxon


class OrderForm(OnceForm):
    """Pots promised to somebody by a day."""

    side_by_side: ClassVar[Rows] = (
        ("taxon",),
        ("quantity", "pot_size"),
        ("wanted_on", "customer"),
        ("code",),
    )
    units = {"quantity": "pots"}

    taxon = forms.ModelChoiceField(
        label="Fern",
        queryset=Taxon.objects.all(),
        to_field_name="code",
        empty_label="choose a fern",
    )
    quantity = forms.IntegerField(label="How many")
    pot_size = forms.CharField(
        label="Size", required=False, max_length=20, help_text="Like 9 cm or 2 L."
    )
    wanted_on = day_field("Wanted on", help_text="The day they are to leave.")
    customer = forms.CharField(label="For whom", required=False, max_length=120)
    code = own_code_field(help_text="Leave it empty and a code is given out.")
