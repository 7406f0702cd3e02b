"""Who is added, and what may they do?"""

from __future__ import annotations

from django import forms

from batches.forms.nursery_form import NurseryForm
from batches.models.people import ROLES


class NameForm(NurseryForm):
    """Another name for somebody."""

    name = forms.CharField(
        label="Name",
        max_length=80,
        help_text="From now on. What was written under the old name keeps it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class PersonForm(NurseryForm):
    """A name and a role."""

    name = forms.CharField(
        label="Name", max_length=80, help_text="As it shall stand beside looks and deeds."
    )
    role = forms.ChoiceField(
        label="Role",
        choices=ROLES,
        initial="hand",
        widget=forms.RadioSelect,
        help_text="Hands log and do; office also sends, imports and plans; managers settle all.",
    )
