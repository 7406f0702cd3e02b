"""What is written down of an origin, and of a look at its sori?"""

from __future__ import annotations

from typing import ClassVar

from django import forms

from batches.forms.nursery_form import (
    NurseryForm,
    OnceForm,
    Rows,
    day_field,
    notes_field,
    own_code_field,
    week_field,
)
from batches.models import Bench, Taxon
from batches.models.source import PROVENANCES, SOURCE_KINDS
from batches.services.stock_plants import OriginFacts


class OriginForm(OnceForm):
    """An origin of a known fern: a stock plant, several, a wild place, an exchange, a purchase."""

    side_by_side: ClassVar[Rows] = (
        ("kind",),
        ("provenance",),
        ("mothers",),
        ("bench",),
        ("ripe_from_week", "ripe_to_week"),
        ("supplier", "passport"),
        ("locality", "permit"),
        ("notes",),
    )

    kind = forms.ChoiceField(label="Kind of origin", choices=SOURCE_KINDS, widget=forms.RadioSelect)
    provenance = forms.ChoiceField(
        label="Provenance",
        choices=PROVENANCES,
        widget=forms.RadioSelect,
        help_text="How the plant itself stands to wild plants, as far back as is known.",
    )
    mothers = forms.CharField(
        label="Mothers",
        required=False,
        max_length=400,
        help_text="Codes of the plants pooled, or of the tray a form was selected in.",
    )
    bench = forms.ModelChoiceField(
        label="Stands on bench",
        required=False,
        queryset=Bench.objects.in_walking_order().select_related("house"),
        to_field_name="code",
        empty_label="no bench",
    )
    ripe_from_week = week_field(
        "Sori ripen from week", help_text="Today then says: look at the sori."
    )
    ripe_to_week = week_field("Sori ripen to week", help_text="May run over New Year.")
    supplier = forms.CharField(label="Supplier or giver", required=False, max_length=120)
    passport = forms.CharField(
        label="Plant passport received",
        required=False,
        max_length=120,
        help_text="Its number, as it stands on the passport.",
    )
    locality = forms.CharField(
        label="Place", required=False, max_length=200, help_text="Where it grew wild; near enough."
    )
    permit = forms.CharField(
        label="Permit", required=False, max_length=120, help_text="Its number, and who gave it."
    )
    notes = notes_field()

    def facts(self) -> OriginFacts:
        """Return what the deed is told."""
        found = self.cleaned_data
        return OriginFacts(
            **{
                name: found[name]
                for name in (
                    "kind", "provenance", "mothers", "bench", "locality", "permit", "supplier",
                    "passport", "ripe_from_week", "ripe_to_week", "notes",
                )
            }
        )  # fmt: skip


class NewOriginForm(OriginForm):
    """A new origin: its fern and, where the nursery has one, its own code."""

    side_by_side: ClassVar[Rows] = (("taxon",), *OriginForm.side_by_side, ("own_code",))

    taxon = forms.ModelChoiceField(
        label="Fern",
        queryset=Taxon.objects.all(),
        to_field_name="code",
        empty_label="choose a fern",
    )
    own_code = own_code_field(help_text="Leave it empty and a code is given out.")


class SoriForm(NurseryForm):
    """Somebody looked whether the sori are ripe."""

    on = day_field("Looked on")
