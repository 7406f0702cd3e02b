"""What do the small sums ask, and what do they answer?"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import ClassVar

from django import forms

from batches.core.media import (
    USUAL_LOSS,
    feed_grams_per_litre,
    mix_needed,
    nitrogen_mg_per_litre,
)
from batches.core.suspension import ml_to_take, spores_for, spores_per_ml
from batches.forms.nursery_form import NurseryForm
from batches.services.media import tidy_recipe

#: lines of an answer: what it is, and how much
Answer = Sequence[tuple[str, str]]

DUST = (
    "Dry perlite and peat dust harm the lungs: wet the mix first, wear a respirator. Potting mixes "
    "can carry Legionella: open bags away from your face, wash hands. Local codes decide."
)
FEED = "Wear gloves and eye protection with concentrates; the product's own label decides."
GLASS = (
    "Cover slips are sharp; spores in the air set off coughs: work out of the draught, by your "
    "employer's rules."
)


class ReckonerForm(NurseryForm):
    """A small sum with its title, its caution and what it rests on."""

    title: ClassVar[str] = ""
    caution: ClassVar[str] = ""
    note: ClassVar[str] = ""

    def answer(self) -> Answer:
        """Return the lines of the answer; raise a `NurseryError` where it makes no sum."""
        raise NotImplementedError


class SuspensionForm(ReckonerForm):
    """Spores counted in a chamber, thinned to a strength that is sown."""

    title = "Count a suspension"
    caution = GLASS
    note = (
        "A large square of a counting chamber is 1 × 1 mm and 0.1 mm deep, 0.0001 mL. Where spores "
        "are too big for it, count drops of known volume on a slide."
    )
    side_by_side = (("counts",), ("dilution", "ml_counted"), ("want", "ml"))
    units = {"ml_counted": "mL", "want": "spores a mL", "ml": "mL", "dilution": "times"}

    counts = forms.CharField(
        label="Spores in each square", max_length=400, help_text="Such as 20 30 25 28."
    )
    dilution = forms.FloatField(label="Thinned for counting", initial=1, min_value=1)
    ml_counted = forms.FloatField(label="Volume of a square or drop", initial=0.0001, min_value=0)
    want = forms.FloatField(label="Strength wanted", initial=5_000, min_value=0)
    ml = forms.FloatField(label="Amount wanted", initial=200, min_value=0)

    def clean_counts(self) -> list[int]:
        """Read whole numbers with anything between them."""
        words = re.split(r"[\s,;]+", self.cleaned_data["counts"].strip())
        if not all(word.isdecimal() for word in words):
            raise forms.ValidationError("Write whole numbers with spaces between, like 20 30 25.")
        return [int(word) for word in words]

    def answer(self) -> Answer:
        """Return the strength, and how to thin it."""
        found = self.cleaned_data
        have = spores_per_ml(
            found["counts"], dilution=found["dilution"], ml_counted=found["ml_counted"]
        )
        take = ml_to_take(have=have, want=found["want"], ml=found["ml"])
        return (
            ("It holds", f"{have:,.0f} spores a mL"),
            ("Take", f"{take:.3g} mL and fill up with water to {found['ml']:g} mL"),
        )


class DensityForm(ReckonerForm):
    """How many spores go on so many trays."""

    title = "Sowing density"
    note = (
        "10 to 20 germinable spores a cm² stand well, above 50 they crowd (common practice, no "
        "source). A tray of 33 × 21 cm has 693 cm²."
    )
    side_by_side = (("trays", "cm2"), ("per_cm2", "germination"), ("strength", "per_mg"))
    units = {
        "cm2": "cm²", "germination": "%", "per_cm2": "a cm²", "strength": "spores a mL",
        "per_mg": "spores a mg",
    }  # fmt: skip

    trays = forms.IntegerField(label="Trays", initial=1, min_value=1, max_value=10_000)
    cm2 = forms.FloatField(label="Area of a tray", initial=693, min_value=1)
    per_cm2 = forms.FloatField(label="Germinable spores", initial=15, min_value=0)
    germination = forms.FloatField(label="Germination", initial=60, min_value=0, max_value=100)
    strength = forms.FloatField(label="Strength of a suspension", required=False, min_value=1)
    per_mg = forms.FloatField(label="Counted in a milligram", required=False, min_value=1)

    def answer(self) -> Answer:
        """Return spores, and millilitres or milligrams where their strength is known."""
        found = self.cleaned_data
        each = spores_for(
            cm2=found["cm2"], per_cm2=found["per_cm2"], germination=found["germination"] / 100
        )
        lines = [
            ("On each tray", f"{each:,} spores"),
            ("On all", f"{each * found['trays']:,} spores"),
        ]
        if found["strength"]:
            lines.append(("Suspension a tray", f"{each / found['strength']:.3f} mL"))
        if found["per_mg"]:
            lines.append(("Dry spores a tray", f"{each / found['per_mg']:.3g} mg"))
        if found["per_cm2"] > 50:
            lines.append(("Mind", "above 50 a cm² prothalli crowd and fronds come late"))
        return lines


class MixForm(ReckonerForm):
    """How much of each part fills so many containers."""

    title = "Mix for containers"
    caution = DUST
    note = "Parts are by loose volume; a mix holds 10 to 20 % less than its parts (no source)."
    side_by_side = (("containers", "ml_each"), ("recipe", "loss"))
    units = {"ml_each": "mL", "loss": "%"}

    containers = forms.IntegerField(label="Containers or cells", initial=84, min_value=1)
    ml_each = forms.FloatField(label="Each holds", initial=30, min_value=0.1)
    recipe = forms.CharField(label="Parts", initial="peat:2 perlite:1", max_length=200)
    loss = forms.FloatField(
        label="Lost in mixing", initial=100 * USUAL_LOSS, min_value=0, max_value=60
    )

    def answer(self) -> Answer:
        """Return litres of mix and of each part."""
        found = self.cleaned_data
        recipe = tidy_recipe(found["recipe"])
        parts = {name: float(share) for name, share in (w.split(":") for w in recipe.split())}
        needed = mix_needed(
            containers=found["containers"], litres_each=found["ml_each"] / 1_000, parts=parts,
            loss=found["loss"] / 100,
        )  # fmt: skip
        return (
            ("Mix", f"{needed.litres:.3g} L fill them"),
            ("Parts in all", f"{needed.of_parts:.3g} L"),
            *((name, f"{litres:.3g} L") for name, litres in needed.parts.items()),
        )


class FeedForm(ReckonerForm):
    """How much of a product makes so much nitrogen in the water."""

    title = "Feed"
    caution = FEED
    note = (
        "Half strength from the first frond on, never before (common practice, no source). The "
        "nitrogen of a product stands on its label."
    )
    side_by_side = (("nitrogen", "mg_n"), ("litres", "injector"))
    units = {"nitrogen": "%", "mg_n": "mg N a L", "litres": "L", "injector": ": 1"}

    nitrogen = forms.FloatField(
        label="Nitrogen in the product", initial=20, min_value=0.1, max_value=100
    )
    mg_n = forms.FloatField(label="Wanted in the water", initial=50, min_value=0.1, max_value=5_000)
    litres = forms.FloatField(label="Water", initial=10, min_value=0.1)
    injector = forms.FloatField(
        label="Injector thins", required=False, min_value=1, help_text="100 for 100 : 1."
    )

    def answer(self) -> Answer:
        """Return grams for the water, and for a stock solution."""
        found = self.cleaned_data
        share = found["nitrogen"] / 100
        grams = feed_grams_per_litre(mg_n_per_litre=found["mg_n"], nitrogen=share)
        whole = grams * found["litres"]
        check = nitrogen_mg_per_litre(grams=whole, litres=found["litres"], nitrogen=share)
        lines = [
            ("Product", f"{grams:.3g} g a litre, {whole:.3g} g in {found['litres']:g} L"),
            ("That gives", f"{check:.3g} mg nitrogen a litre"),
        ]
        if found["injector"]:
            lines.append(("Stock for the injector", f"{grams * found['injector']:.3g} g a litre"))
        return lines


RECKONERS: dict[str, type[ReckonerForm]] = {
    "suspension": SuspensionForm,
    "density": DensityForm,
    "mix": MixForm,
    "feed": FeedForm,
}
