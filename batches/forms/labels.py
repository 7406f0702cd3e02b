"""Which labels, on which stock, from which free label on?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms

from batches.services.codes import code_in

MOST_CODES = 2_000
KINDS = (
    ("tray", "trays"),
    ("pot", "pots"),
    ("lot", "packets of spores"),
    ("source", "stock plants and other origins"),
    ("bench", "benches"),
)


class LabelsForm(forms.Form):
    """Codes of trays or lots, one after the other, and how they are printed.

    Passports are asked for only where the nursery issues them.
    """

    codes = forms.CharField(
        label="Codes",
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
        max_length=80_000,
        help_text="With spaces between or on lines of their own; scanned ones as they come.",
    )
    kind = forms.ChoiceField(
        label="Labels for",
        choices=KINDS,
        initial="tray",
        widget=forms.RadioSelect,
    )
    stock = forms.ChoiceField(label="Label stock", help_text="What lies in the printer.")
    copies = forms.IntegerField(label="Copies of each", min_value=1, max_value=1_000, initial=1)
    start_at = forms.IntegerField(
        label="Start at label",
        min_value=1,
        initial=1,
        help_text="The first free label of a used sheet, counted along the rows.",
    )

    with_size = forms.BooleanField(label="Size on pot labels", required=False, initial=True)
    with_care = forms.BooleanField(
        label="Care line on pot labels", required=False, help_text="As each fern's page says it."
    )
    price = forms.CharField(
        label="Price on pot labels", required=False, max_length=16, help_text="Like €6.50."
    )
    with_passport = forms.BooleanField(
        label="Plant passport on pot labels",
        required=False,
        help_text="Each is entered in the register of passports as issued.",
    )
    origin = forms.CharField(
        label="Country of origin (D)",
        required=False,
        max_length=60,
        help_text="Two letters or the country's name; the nursery's own where it is left empty.",
    )

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        codes: list[str],
        stocks: Sequence[tuple[str, str]],
        kind: str = "tray",
        passports: bool = False,
        sheet_href: str = "",
    ) -> None:
        initial = {"codes": "\n".join(codes), "kind": kind, "stock": stocks[0][0]}
        super().__init__(data, initial=initial)
        if not passports:
            del self.fields["with_passport"], self.fields["origin"]
        stock = self.fields["stock"]
        stock.choices = list(stocks)  # type: ignore[attr-defined]
        # Another stock, another sheet to choose the first label on.
        stock.widget.attrs |= {
            "hx-get": sheet_href,
            "hx-target": "#sheet-place",
            "hx-trigger": "change",
        }

    def clean_codes(self) -> list[str]:
        """Return the codes, each once, in the order given."""
        words = self.cleaned_data["codes"].replace(",", " ").split()
        codes = list(dict.fromkeys(code_in(word) for word in words))
        if len(codes) > MOST_CODES:
            raise forms.ValidationError(f"At most {MOST_CODES:,} codes at once; print in parts.")
        return codes

    def clean(self) -> dict[str, Any]:
        """Refuse a passport on what is no pot."""
        found = super().clean() or {}
        if found.get("with_passport") and found.get("kind") != "pot":
            self.add_error("with_passport", "Plant passports stand on pot labels only.")
        return found
