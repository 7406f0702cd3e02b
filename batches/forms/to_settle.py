"""What of something that came from the bench does the manager put right?"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone

from batches.core.signs import CAUSE_WORDS, CAUSES, SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS, Stage
from batches.forms.nursery_form import NurseryForm, moment_field
from batches.models import Bench, ToSettle
from batches.services.sync_items import text_of

_PICKINGS = ("prick_out", "pot_up")


class CorrectForm(NurseryForm):
    """Everything an item says, to be put right; only what its kind knows is asked."""

    tray = forms.CharField(label="Tray", max_length=40)
    at = moment_field("When it happened")
    stage_seen = forms.ChoiceField(
        label="Stage seen",
        required=False,
        choices=[("", "none"), *((str(stage), STAGE_WORDS[stage]) for stage in Stage)],
    )
    count = forms.IntegerField(label="Alive", required=False, min_value=0, max_value=1_000_000)
    about = forms.BooleanField(label="About: not counted one by one", required=False)
    lost = forms.IntegerField(label="Lost", required=False, min_value=1)
    lost_cause = forms.ChoiceField(
        label="Cause of the loss",
        required=False,
        choices=[("", "not known"), *((cause, CAUSE_WORDS[cause]) for cause in CAUSES)],
    )
    signs = forms.MultipleChoiceField(
        label="Trouble and heart shapes",
        required=False,
        choices=[(str(sign), SIGN_WORDS[sign]) for sign in Sign],
        widget=forms.CheckboxSelectMultiple,
    )
    note = forms.CharField(label="Note", required=False, max_length=2_000)
    bench = forms.ModelChoiceField(
        label="To bench", queryset=Bench.objects.all(), to_field_name="code"
    )
    row = forms.IntegerField(label="Row", required=False, min_value=1, max_value=200)
    column = forms.IntegerField(label="Column", required=False, min_value=1, max_value=200)
    quantity = forms.IntegerField(label="How many left the tray", min_value=1)
    trays = forms.CharField(
        label="What arrived where",
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="A line for each tray: how many, then its code, or nothing for a new one.",
    )

    side_by_side = (
        ("tray", "at"), ("count", "about"), ("lost", "lost_cause"), ("row", "column"),
    )  # fmt: skip
    tiles = frozenset({"signs"})

    _FIELDS = {
        "check": ("stage_seen", "count", "about", "lost", "lost_cause", "signs", "note"),
        "move": ("bench", "row", "column"),
        "prick_out": ("quantity", "trays"),
        "pot_up": ("quantity", "trays"),
    }

    def __init__(self, data: Mapping[str, Any] | None = None, *, matter: ToSettle) -> None:
        super().__init__(data, initial=_initial(matter))
        self.kind = text_of(matter.item.get("kind"))
        self.named = matter.item.get("trays")
        wanted = {"tray", "at", *self._FIELDS.get(self.kind, ())}
        for name in [name for name in self.fields if name not in wanted]:
            del self.fields[name]

    def clean_trays(self) -> list[dict[str, Any]]:
        """Read the lines; what the tablet said of a tray beside its number and code is kept."""
        before = self.named if isinstance(self.named, list) else []
        found = []
        for place, line in enumerate(str(self.cleaned_data["trays"]).splitlines()):
            words = line.split()
            if not words:
                continue
            if not words[0].isdecimal() or len(words) > 2:
                raise forms.ValidationError(
                    f"“{line.strip()[:60]}”: write how many and then the code, like 40 26W14-073."
                )
            said = before[place] if place < len(before) and isinstance(before[place], dict) else {}
            code = {"code": words[1]} if len(words) > 1 else {}
            rest = {name: one for name, one in said.items() if name not in {"code", "quantity"}}
            found.append(rest | code | {"quantity": int(words[0])})
        return found

    def changed(self) -> dict[str, Any]:
        """Return the item's values put right, by the item's own names."""
        found = dict(self.cleaned_data)
        found.pop("at")
        if self.kind == "check":
            lost, cause = found.pop("lost"), found.pop("lost_cause")
            found["losses"] = [{"quantity": lost, "cause": cause}] if lost else []
        if "bench" in found:
            found["bench"] = found["bench"].code
        if self.kind in _PICKINGS:
            # How many arrived in all is what the lines say now.
            found["arrived"] = None
        return found

    @property
    def happened_at(self) -> datetime:
        """When it happened, as put right."""
        moment: datetime = self.cleaned_data["at"]
        return moment


def _initial(matter: ToSettle) -> dict[str, Any]:
    raw = matter.item
    losses = [one for one in _list(raw, "losses") if isinstance(one, dict)]
    trays = [one for one in _list(raw, "trays") if isinstance(one, dict)]
    at = matter.at
    return {
        **{name: raw.get(name) for name in ("stage_seen", "count", "about", "note", "bench", "row",
                                             "column", "quantity")},
        "tray": text_of(raw.get("tray")),
        "at": None if at is None else timezone.localtime(at).replace(second=0, microsecond=0),
        "signs": [word for word in _list(raw, "signs") if word in set(Sign)],
        "lost": losses[0].get("quantity") if losses else None,
        "lost_cause": losses[0].get("cause") if losses else "",
        "trays": "\n".join(
            f"{text_of(one.get('quantity'))} {text_of(one.get('code'))}".strip() for one in trays
        ),
    }  # fmt: skip


def _list(raw: dict[str, Any], name: str) -> list[Any]:
    value = raw.get(name)
    return value if isinstance(value, list) else []
