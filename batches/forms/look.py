"""What does one say of a look at a tray?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from uuid import uuid4

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.datastructures import MultiValueDict

from batches.core.signs import CAUSE_WORDS, CAUSES, SIGN_WORDS, Sign
from batches.core.stages import STAGE_WORDS, Stage, stages_seen_next
from batches.forms.rough_count import put_together, rough_fields
from batches.models import Tray


class LookForm(forms.Form):
    """A look: everything but “when” may be left out, and then it says “nothing new”."""

    stage_seen = forms.ChoiceField(
        label="New stage seen",
        required=False,
        widget=forms.RadioSelect,
        help_text="Only where the tray has come further than it stands here.",
    )
    signs = forms.MultipleChoiceField(
        label="Trouble and heart shapes",
        required=False,
        choices=[(sign.value, SIGN_WORDS[sign]) for sign in Sign],
        widget=forms.CheckboxSelectMultiple,
    )
    count = forms.IntegerField(
        label="Alive",
        required=False,
        min_value=0,
        max_value=1_000_000,
        help_text="Empty where nobody counted.",
    )
    about = forms.BooleanField(label="About: not counted one by one", required=False)
    lost = forms.IntegerField(label="Lost since the last look", required=False, min_value=1)
    lost_cause = forms.ChoiceField(
        label="Cause of the loss",
        required=False,
        choices=[("", "not known")] + [(cause, CAUSE_WORDS[cause]) for cause in CAUSES],
    )
    opened = forms.BooleanField(label="The lid was opened", required=False)
    note = forms.CharField(
        label="Note", required=False, max_length=2_000, widget=forms.Textarea(attrs={"rows": 2})
    )
    photo = forms.FileField(
        label="Photo",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )
    seen_at = forms.DateTimeField(
        label="When",
        required=False,
        help_text="Empty means just now.",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
    record_id = forms.UUIDField(widget=forms.HiddenInput)
    revision = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        files: MultiValueDict[str, UploadedFile] | None = None,
        *,
        tray: Tray,
    ) -> None:
        super().__init__(data, files, initial={"record_id": uuid4(), "revision": tray.revision})
        to_see = stages_seen_next(tray.route, Stage(tray.stage))
        ahead = [(stage.value, STAGE_WORDS[stage]) for stage in to_see]
        self.fields["stage_seen"].choices = [("", "none"), *ahead]  # type: ignore[attr-defined]
        if not ahead:
            del self.fields["stage_seen"]
        self.fields["count"].label = f"Alive ({tray.unit})"
        self.cells = tray.cells
        self.fields |= rough_fields(tray)
        if tray.start_stage in {"pricked_out", "potted_up"}:
            del self.fields["opened"]

    def clean(self) -> dict[str, Any]:
        """Put rough counts together; refuse “about” and a cause that stand alone."""
        found = super().clean() or {}
        rough = put_together(self, found, cells=self.cells)
        if rough is not None:
            found |= {"count": rough, "about": True}
        if found.get("about") and found.get("count") is None and "count" not in self.errors:
            self.add_error("count", "“About” needs a number.")
        if found.get("lost_cause") and not found.get("lost") and "lost" not in self.errors:
            self.add_error("lost", "How many were lost?")
        return found

    def deed(self) -> dict[str, Any]:
        """Return what `record_check` is told."""
        found = self.cleaned_data
        losses = [(found["lost"], found["lost_cause"])] if found.get("lost") else []
        return {
            "seen_at": found["seen_at"],
            "stage_seen": found.get("stage_seen", ""),
            "signs": found["signs"],
            "count": found["count"],
            "about": found["about"],
            "losses": losses,
            "opened": found.get("opened", False),
            "note": found["note"],
            "record_id": found["record_id"],
            "revision": found["revision"],
        }
