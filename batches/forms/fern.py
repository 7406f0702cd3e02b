"""What is written down of a fern, and of its own days from stage to stage?"""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from batches.core.errors import NurseryError
from batches.core.names import BotanicalName, botanical_name
from batches.core.stages import ROUTE_WORDS
from batches.forms.nursery_form import (
    OnceForm,
    Rows,
    notes_field,
    own_code_field,
    week_field,
)
from batches.models.taxon import FORMS, HYBRID_CHOICES, RANK_CHOICES, SPORE_KINDS
from batches.services.ferns import FernFacts

_NAME = ("genus", "species", "infra_rank", "infra_epithet", "group", "cultivar", "hybrid")
_FACTS = (
    "common_name", "spore_kind", "form", "rest_from_week", "rest_to_week", "last_pot_up_week",
    "tender", "sow_by_days", "care_line", "protection", "notes",
)  # fmt: skip


class FernForm(OnceForm):
    """A fern's name in parts, and what its dates are reckoned from."""

    side_by_side: ClassVar[Rows] = (
        ("genus", "species"),
        ("infra_rank", "infra_epithet"),
        ("group", "cultivar"),
        ("hybrid", "common_name"),
        ("spore_kind", "form"),
        ("routes",),
        ("rest_from_week", "rest_to_week"),
        ("last_pot_up_week", "tender"),
        ("sow_by_days", "protection"),
        ("care_line",),
        ("notes",),
    )
    units = {"sow_by_days": "days"}

    genus = forms.CharField(label="Genus", max_length=60)
    species = forms.CharField(
        label="Species",
        required=False,
        max_length=120,
        help_text="The epithet, or a hybrid formula like affinis × filix-mas.",
    )
    infra_rank = forms.ChoiceField(
        label="Rank below species", required=False, choices=[("", "none"), *RANK_CHOICES]
    )
    infra_epithet = forms.CharField(label="Its epithet", required=False, max_length=60)
    group = forms.CharField(
        label="Group", required=False, max_length=60, help_text="Like Divisilobum Group."
    )
    cultivar = forms.CharField(
        label="Cultivar", required=False, max_length=80, help_text="Without quotes."
    )
    hybrid = forms.ChoiceField(
        label="Hybrid", required=False, choices=[("", "no hybrid"), *HYBRID_CHOICES]
    )
    common_name = forms.CharField(label="Common name", required=False, max_length=80)
    spore_kind = forms.ChoiceField(
        label="Spores when ripe",
        choices=SPORE_KINDS,
        widget=forms.RadioSelect,
        help_text="Green spores (royal, ostrich, sensitive fern) are sown at once.",
    )
    form = forms.ChoiceField(label="Grows as", choices=FORMS, widget=forms.RadioSelect)
    routes = forms.MultipleChoiceField(
        label="Raised from",
        choices=[(str(route), word) for route, word in ROUTE_WORDS.items()],
        widget=forms.CheckboxSelectMultiple,
    )
    rest_from_week = week_field(
        "Rests from week", help_text="It does not age in its rest, and is not late."
    )
    rest_to_week = week_field("Rests to week", help_text="May run over New Year: 44 to 10.")
    last_pot_up_week = week_field(
        "Last week for potting up", help_text="Later potting does not root before winter."
    )
    tender = forms.TypedChoiceField(
        label="Needs a frost-free place",
        required=False,
        choices=[("", "as usual: tree ferns do"), ("True", "yes, tender"), ("False", "no, hardy")],
        coerce=lambda word: word == "True",
        empty_value=None,
        help_text="In winter Today names its trays in a house that frost can reach.",
    )
    sow_by_days = forms.IntegerField(
        label="Sow within",
        required=False,
        help_text="Days of collecting. Empty: 14 for green spores, 1,045 for others.",
    )
    care_line = forms.CharField(
        label="Care line on pot labels",
        required=False,
        max_length=160,
        help_text="Like “Moist, shady, sheltered.”; printed where a print asks for it.",
    )
    protection = forms.CharField(
        label="Protection",
        required=False,
        max_length=200,
        help_text="Like CITES Appendix II; shown where it is collected, sown and sent.",
    )
    notes = notes_field()

    def clean(self) -> dict[str, Any]:
        """Put the name right: signs, ranks, quotes and capitals."""
        found = super().clean() or {}
        if not self.errors:
            try:
                found["name"] = botanical_name(**{part: found[part] for part in _NAME})
            except NurseryError as error:
                self.refuse(error)
        return found

    def name(self) -> BotanicalName:
        """Return the name from its parts, put right."""
        name: BotanicalName = self.cleaned_data["name"]
        return name

    def facts(self) -> FernFacts:
        """Return what the deed is told beside the name."""
        found = self.cleaned_data
        return FernFacts(routes=tuple(found["routes"]), **{name: found[name] for name in _FACTS})


class NewFernForm(FernForm):
    """A new fern; its code is proposed from its name."""

    side_by_side: ClassVar[Rows] = (*FernForm.side_by_side, ("own_code",))

    own_code = own_code_field(
        help_text="Leave it empty for three letters of genus and species: DRYFIL, DRYAFF-CRI."
    )
