"""What are the measures of a label paper?"""

from __future__ import annotations

from typing import Any

from django import forms

from batches.forms.nursery_form import NurseryForm


def _mm(label: str, *, help_text: str = "", lowest: float = 0, initial: float = 0) -> Any:
    return forms.FloatField(
        label=label,
        min_value=lowest,
        max_value=1_000,
        initial=initial,
        help_text=help_text,
        widget=forms.NumberInput(attrs={"step": "any", "class": "short"}),
    )


class LabelStockForm(NurseryForm):
    """Sizes in mm, as they stand on the packet or under a ruler."""

    title = forms.CharField(
        label="What it is",
        max_length=80,
        help_text="As people here call it: “Yellow stick-in labels, 25 × 127 mm”.",
    )
    single = forms.BooleanField(
        label="Single labels, on a roll or one by one",
        required=False,
        help_text="Then the page is the label.",
    )
    page_width = _mm("Page width", initial=210)
    page_height = _mm("Page height", initial=297)
    label_width = _mm("Label width", initial=63.5)
    label_height = _mm("Label height", initial=33.9)
    columns = forms.IntegerField(label="Labels side by side", min_value=1, max_value=50, initial=1)
    rows = forms.IntegerField(
        label="Labels one below another", min_value=1, max_value=50, initial=1
    )
    margin_left = _mm("Left margin", help_text="From the edge of the page to the first label.")
    margin_top = _mm("Top margin", help_text="From the edge of the page to the first label.")
    gap_x = _mm("Gap between columns")
    gap_y = _mm("Gap between rows")
    inset_x = _mm("Blank edge left and right", help_text="Inside each label.", initial=1.5)
    inset_y = _mm("Blank edge above and below", help_text="Inside each label.", initial=1.5)
    blank_lower_third = forms.BooleanField(
        label="Stick-in: leave the lower third blank",
        required=False,
        help_text="It stands in the soil.",
    )
    offset_x = _mm(
        "Shift right", help_text="As read off the calibration page; −1 is left.", lowest=-20
    )
    offset_y = _mm(
        "Shift down", help_text="As read off the calibration page; −1 is up.", lowest=-20
    )

    side_by_side = (
        ("title",),
        ("single",),
        ("page_width", "page_height"),
        ("label_width", "label_height"),
        ("columns", "rows"),
        ("margin_left", "margin_top"),
        ("gap_x", "gap_y"),
        ("inset_x", "inset_y"),
        ("blank_lower_third",),
        ("offset_x", "offset_y"),
    )
    units = {
        name: "mm"
        for row in side_by_side[2:]
        for name in row
        if name not in {"columns", "rows", "blank_lower_third"}
    }

    def clean(self) -> dict[str, Any]:
        """Single labels have no sheet around them: what a sheet has is taken from the label."""
        found = super().clean() or self.cleaned_data
        if found.get("single"):
            nothing = dict.fromkeys(("margin_left", "margin_top", "gap_x", "gap_y"), 0.0)
            found |= {**nothing, "columns": 1, "rows": 1}
            found["page_width"] = found.get("label_width")
            found["page_height"] = found.get("label_height")
            for name in ("page_width", "page_height", *nothing, "columns", "rows"):
                self.errors.pop(name, None)
        return found
